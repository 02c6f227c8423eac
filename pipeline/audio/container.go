package audio

import (
	"cmp"
	"fmt"
	"io"

	"github.com/go-audio/riff"
)

// container walks the chunks of a RIFF file. Chunk headers are read by
// riff.Parser; lengths and positions are kept here, because the chunk reader
// of that package
//
//   - rounds an odd length up, after which the pad byte of 8-bit data looks
//     like a sample,
//   - wraps the length 0xFFFFFFFF, which unfinished files carry, to zero, and
//   - ignores an error in reading the length, so that a file which ends inside
//     a chunk header yields a chunk.
type container struct {
	r          io.ReadSeeker
	start, end int64 // of the file, in positions of r
	pos        int64 // where the next byte is read

	parser *riff.Parser
	err    error // of the last read; the parser drops some
}

// chunk is one chunk as its header claims it to be.
type chunk struct {
	id   [4]byte
	body int64 // position of its first byte
	size int64 // claimed
}

// within returns how much of the chunk lies before end.
func (c chunk) within(end int64) int64 { return min(c.size, end-c.body) }

// Read reads the file and keeps count, which is how the container knows what
// the parser has consumed.
func (c *container) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.pos += int64(n)
	c.err = err
	return n, err
}

func (c *container) seek(pos int64) error {
	p, err := c.r.Seek(pos, io.SeekStart)
	if err != nil {
		return fmt.Errorf("seeking to byte %d: %w", pos-c.start, err)
	}
	c.pos = p
	return nil
}

// Sizes of headers: of a chunk, its name and length; of the file, which is a
// chunk too, with the kind of content behind.
const (
	chunkHeader = 8
	riffHeader  = 12
)

// otherForms names what is found in files that end in .wav without being RIFF.
var otherForms = map[string]string{
	"RIFX":    "big-endian RIFX",
	"RF64":    "64-bit RF64",
	"BW64":    "64-bit BW64",
	"riff":    "Sony Wave64",
	"fLaC":    "FLAC",
	"OggS":    "Ogg",
	"FORM":    "AIFF",
	".snd":    "Sun AU",
	"ID3\x03": "MP3",
	"ID3\x04": "MP3",
	"NIST":    "NIST SPHERE",
}

// open begins the walk at the current position of r.
func (c *container) open(r io.ReadSeeker) error {
	c.r, c.err = r, nil
	var err error
	if c.start, err = r.Seek(0, io.SeekCurrent); err != nil {
		return fmt.Errorf("finding the start of the file: %w", err)
	}
	if c.end, err = r.Seek(0, io.SeekEnd); err != nil {
		return fmt.Errorf("finding the end of the file: %w", err)
	}
	if err := c.seek(c.start); err != nil {
		return err
	}
	switch size := c.end - c.start; {
	case size == 0:
		return fmt.Errorf("%w: the file is empty: fetch it again", ErrNotWAV)
	case size < riffHeader:
		return fmt.Errorf("%w: %d bytes, less than the header: fetch it again", ErrNotWAV, size)
	}
	if c.parser == nil {
		c.parser = riff.New(c)
	}
	// ParseHeaders fails for a read that failed and for another name than
	// RIFF, behind which it stops; the latter is told better below.
	err = c.parser.ParseHeaders()
	if err != nil && (c.parser.ID == riff.RiffID || c.pos-c.start < chunkHeader) {
		return fmt.Errorf("reading the RIFF header: %w", err)
	}
	id := string(c.parser.ID[:])
	if c.parser.ID != riff.RiffID {
		if name, ok := otherForms[id]; ok {
			return fmt.Errorf("%w: it is %s: convert it to RIFF WAV", ErrNotWAV, name)
		}
		return fmt.Errorf("%w: it begins with %q instead of \"RIFF\": check that it is audio", ErrNotWAV, id)
	}
	if c.parser.Format != riff.WavFormatID {
		return fmt.Errorf("%w: RIFF with content %q instead of \"WAVE\": check that it is audio", ErrNotWAV, c.parser.Format[:])
	}
	return nil
}

// next reads the chunk header at the current position. It returns io.EOF where
// no header can follow: at the end of the file, in a rest too short for one,
// and where the bytes spell no name, since what lies behind is not made of
// chunks.
func (c *container) next() (chunk, error) {
	if c.end-c.pos < chunkHeader {
		return chunk{}, io.EOF
	}
	at := c.pos
	id, size, err := c.parser.IDnSize()
	if err != nil {
		return chunk{}, fmt.Errorf("reading the chunk header at byte %d: %w", at-c.start, err)
	}
	if c.pos-at != chunkHeader {
		return chunk{}, fmt.Errorf("reading the chunk header at byte %d: %w", at-c.start, cmp.Or(c.err, io.ErrUnexpectedEOF))
	}
	for _, b := range id {
		if b < ' ' || b > '~' {
			return chunk{}, io.EOF
		}
	}
	return chunk{id: id, body: c.pos, size: int64(size)}, nil
}

// skip moves behind ch and its pad byte. Some writers forget the pad byte of
// an odd chunk; skip then stays where the next name begins and reports it.
func (c *container) skip(ch chunk) (unpadded bool, err error) {
	pos := ch.body + ch.within(c.end)
	if ch.size%2 == 0 || c.end-pos < 4 {
		return false, c.seek(pos)
	}
	if err := c.seek(pos); err != nil {
		return false, err
	}
	var name [4]byte
	if _, err := io.ReadFull(c, name[:]); err != nil {
		return false, fmt.Errorf("reading at byte %d: %w", pos-c.start, err)
	}
	switch string(name[:]) {
	case "fmt ", "data", "LIST", "fact":
		return true, c.seek(pos)
	}
	return false, c.seek(pos + 1)
}
