package corpus

import (
	"bytes"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
)

// Loader reads recordings one after the other. It holds the buffers of one
// worker.
type Loader struct {
	decoder     audio.Decoder
	resampler   *audio.Resampler
	minDuration config.Duration
	content     []byte
	wave        *signal.Waveform
	reading     atomic.Bool
}

// Loaded is a recording as it was read. The next call of [Loader.Load]
// overwrites its samples.
type Loaded struct {
	Clip             *audio.Clip // nil where the audio cannot be read
	*signal.Waveform             // its samples at the analysis rate
	File             segment.AudioFile
	Reference        pcg.Reference
}

// NewLoader returns a loader that reads the channel of c and excludes
// recordings shorter than its minimum.
func NewLoader(c *config.Config) *Loader {
	l := &Loader{resampler: audio.NewResampler(signal.AnalysisRate), wave: signal.NewWaveform(nil), minDuration: c.MinDuration}
	l.decoder.Channel = c.Channel
	return l
}

// Reading reports whether the loader is reading files at this moment. Other
// goroutines may ask.
func (l *Loader) Reading() bool { return l.reading.Load() }

// Load reads audio and reference of a recording and fills in what its row says
// about them. The reference is there even where the audio cannot be read. After
// a [PanicError] the loader must not be used again.
func (l *Loader) Load(e *Entry, row *table.Recording) (r Loaded, err error) {
	l.reading.Store(true)
	defer l.reading.Store(false)
	err = Guard("reading", func() (err error) {
		r.Clip, err = l.readAudio(e, &r, row)
		r.Waveform = l.wave
		r.Reference = readReference(e, row)
		return err
	})
	return r, err
}

// readAudio decodes the audio of a recording and resamples it into l.wave.
func (l *Loader) readAudio(e *Entry, r *Loaded, row *table.Recording) (*audio.Clip, error) {
	content, err := e.Set.ReadFileInto(l.content, e.Recording.Audio)
	if err != nil {
		return nil, err
	}
	l.content = content
	r.File = segment.NewAudioFile(content)
	row.AudioDigest = r.File.Digest
	clip, err := l.decoder.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dataset.Printable(e.Recording.Audio), err)
	}
	row.Duration = ptr(clip.Duration())
	row.Rate, row.Channels, row.Bits = ptr(int32(clip.Rate)), ptr(int32(clip.Channels)), ptr(int32(clip.BitsPerSample))
	row.Encoding = clip.Encoding
	row.Repairs = strings.Join(clip.Repairs, "; ")
	if d := clip.Duration(); d < time.Duration(l.minDuration) {
		return nil, fmt.Errorf("%w: lasts %.3f s, less than the %v of min-duration", ErrExcluded, d.Seconds(), l.minDuration)
	}
	l.wave.Set(l.resampler.Resample(l.wave.X[:0], clip.Samples, clip.Rate))
	return clip, nil
}

// readReference reads the reference annotation of a recording. Where it cannot
// be used, the recording has no score, and its row says why.
func readReference(e *Entry, row *table.Recording) pcg.Reference {
	if e.Recording.Reference == "" {
		row.ReferenceNote = "no reference annotation"
		return pcg.Reference{}
	}
	var rate int
	var length time.Duration
	if row.Rate != nil { // else the audio could not be read
		rate, length = int(*row.Rate), *row.Duration
	}
	ref, digest, err := e.Set.ReferenceWithDigest(e.Recording, rate, length)
	row.ReferenceDigest = digest
	if err != nil {
		row.ReferenceNote = err.Error()
		return pcg.Reference{}
	}
	if ref.Empty() {
		row.ReferenceNote = "the reference annotation marks no state"
	}
	row.ReferenceKind = string(ref.Kind)
	if ref.Kind != pcg.PointReference {
		var annotated time.Duration
		for _, iv := range ref.Intervals {
			annotated += iv.Duration()
		}
		row.Annotated = ptr(annotated)
	}
	AddRepairs(row, ref.Repairs)
	return ref
}

// AddRepairs adds to the repairs that the row of a recording names.
func AddRepairs(row *table.Recording, repairs []string) {
	if row.Repairs != "" {
		repairs = append([]string{row.Repairs}, repairs...)
	}
	row.Repairs = strings.Join(repairs, "; ")
}

func ptr[T any](v T) *T { return &v }
