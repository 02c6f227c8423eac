package dataset

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/table/atomicfile"
)

// CopyFile is the file in a data root that says that it holds a copy with changed
// audio.
const CopyFile = "condition.json"

// Change is a condition under which audio was changed, with the seed of its random
// numbers; see package degrade.
type Change struct {
	Condition string `json:"condition"`
	Seed      uint64 `json:"seed"`
}

// Changes are made one after the other.
type Changes []Change

// String returns the changes as in "noise=pink,snr=5 (seed 1), then rate=500 (seed 1)".
func (c Changes) String() string {
	parts := make([]string, len(c))
	for i, change := range c {
		parts[i] = fmt.Sprintf("%s (seed %d)", change.Condition, change.Seed)
	}
	return strings.Join(parts, ", then ")
}

// Copy is the record of a copied data set whose audio was changed. It lies in the
// copy as [CopyFile].
type Copy struct {
	Tool     string `json:"tool"`
	Complete bool   `json:"complete"` // false while files are being written

	// Changes are all conditions that the audio has gone through, those of the set that
	// was copied first.
	Changes Changes `json:"changes"`

	// Of the data set that was copied.
	DataSet      string `json:"data_set"`
	Title        string `json:"title"`
	Version      string `json:"version"`
	LayoutDigest string `json:"layout_digest"`
	ListDigest   string `json:"list_digest"` // of ids, people and labels
	Channel      int    `json:"channel"`     // that was read; 0 is the mean of all

	Recordings []CopiedRecording `json:"recordings"` // sorted by Audio
	Files      []CopiedFile      `json:"files"`      // all others, copied byte for byte
	LeftOut    []string          `json:"left_out,omitempty"`
}

// CopiedRecording is the audio file of a recording in a copy.
type CopiedRecording struct {
	Recording string `json:"recording"`
	Audio     string `json:"audio"`
	Outcome   string `json:"outcome"`          // one of the outcomes below
	Reason    string `json:"reason,omitempty"` // why it was not changed

	// Original is the file that was recorded, as models identify it: SHA-256, size and
	// CRC-32 of the start. Rate is its sampling rate in hertz, at which the reference may
	// count, and Length how long it lasts, which the copy at another rate does to within a
	// sample; 0 if they are unknown.
	Original string        `json:"original,omitempty"`
	Rate     int           `json:"original_rate_hz,omitempty"`
	Length   time.Duration `json:"original_length_ns,omitempty"`

	Digest   string   `json:"digest,omitempty"` // SHA-256 of the file as written
	Encoding string   `json:"encoding,omitempty"`
	Repairs  []string `json:"repairs,omitempty"` // of the file that was copied
}

// The outcomes of a copied recording.
const (
	CopyChanged   = "changed"
	CopyUnchanged = "unchanged" // it cannot be read, and lies in the copy as it is
	CopyFailed    = "failed"    // it is not in the copy
)

// CopiedFile is a file that was copied byte for byte.
type CopiedFile struct {
	Path   string `json:"path"`
	Digest string `json:"digest,omitempty"` // SHA-256
}

// Of returns what the record says of an audio file; nil for nothing.
func (c *Copy) Of(audio string) *CopiedRecording {
	if c == nil {
		return nil
	}
	i, found := slices.BinarySearchFunc(c.Recordings, audio, func(r CopiedRecording, audio string) int { return strings.Compare(r.Audio, audio) })
	if !found {
		return nil
	}
	return &c.Recordings[i]
}

// Earlier returns the changes of a copy; none for a data set that is no copy.
func (c *Copy) Earlier() Changes {
	if c == nil {
		return nil
	}
	return c.Changes
}

// ParseCopy reads a record. It is nil where the text is the JSON of another program.
func ParseCopy(text []byte) (*Copy, error) {
	var c Copy
	var head struct {
		Tool string `json:"tool"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, fmt.Errorf("%s: %w: it may be the record of a copy that degrade made, without which its audio would pass for the original; restore it, or remove it if it is not", CopyFile, err)
	}
	if !strings.HasPrefix(head.Tool, atomicfile.Program+" ") {
		return nil, nil
	}
	if err := json.Unmarshal(text, &c); err != nil {
		return nil, fmt.Errorf("%s: %w: restore it, or make the copy again with degrade", CopyFile, err)
	}
	if len(c.Changes) == 0 {
		return nil, fmt.Errorf("%s names no condition: restore it, or make the copy again with degrade", CopyFile)
	}
	slices.SortFunc(c.Recordings, func(a, b CopiedRecording) int { return strings.Compare(a.Audio, b.Audio) })
	return &c, nil
}

// rateOf returns the sampling rate in hertz at which the reference of a recording counts
// samples: that of its audio, or in a copy that of the original.
func (c *Copy) rateOf(audio string, rate int) int {
	if r := c.Of(audio); r != nil && r.Rate > 0 {
		return r.Rate
	}
	return rate
}

// LengthOf returns how long the original of an audio file lasts; 0 if it is no copy.
func (c *Copy) LengthOf(audio string) time.Duration {
	if r := c.Of(audio); r != nil {
		return r.Length
	}
	return 0
}

// readCopy reads the record of a copy; nil where the folder is none.
func readCopy(folder *folder, l *listing) (*Copy, error) {
	if _, there := l.find(CopyFile); !there {
		return nil, nil
	}
	f, err := folder.openFile(CopyFile)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", CopyFile, err)
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return nil, f.failed(err)
	}
	c, err := ParseCopy(text)
	if err == nil && c != nil && !c.Complete {
		err = fmt.Errorf("%s says that the copy is not complete: make it again with degrade --overwrite", CopyFile)
	}
	return c, err
}
