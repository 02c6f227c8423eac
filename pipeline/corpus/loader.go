package corpus

import (
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/table"
)

// Loader reads recordings one after the other. It holds the buffers of one
// worker.
type Loader struct {
	// Most is the memory in bytes that a recording may need, 0 for any. One that
	// needs more is not read; the error is a [LargeError].
	Most int64

	// Degrader changes the recordings as they are read; nil for no change.
	Degrader *degrade.Degrader

	decoder     audio.Decoder
	resampler   *audio.Resampler
	minDuration config.Duration
	maxDuration config.Duration
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

// Source returns what is known of the recording of an entry beside its waveform. The
// next call of [Loader.Load] overwrites the samples as recorded, which are there only
// where original asks for them.
func (r *Loaded) Source(e *Entry, original bool) segment.Source {
	s := segment.Source{Recording: e.ID, Labels: e.Recording.Labels, File: e.Set.Path(e.Recording.Audio)}
	if original {
		s.Samples, s.Rate = r.Clip.Samples, r.Clip.Rate
	}
	return s
}

// NewLoader returns a loader that reads the channel of c and excludes
// recordings shorter than its minimum or longer than its maximum, if it has one.
func NewLoader(c *config.Config) *Loader {
	l := &Loader{resampler: audio.NewResampler(signal.AnalysisRate), wave: signal.NewWaveform(nil), minDuration: c.MinDuration, maxDuration: c.MaxDuration}
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
		if errors.As(err, new(*LargeError)) {
			return err // to be loaded again
		}
		r.Waveform = l.wave
		r.Reference = readReference(e, row) // which counts the samples of the file
		if r.Clip != nil {
			row.Rate = ptr(int32(r.Clip.Rate))
		}
		return err
	})
	return r, err
}

// readAudio decodes the audio of a recording and resamples it into l.wave.
func (l *Loader) readAudio(e *Entry, r *Loaded, row *table.Recording) (*audio.Clip, error) {
	file, err := e.Set.OpenAudio(e.Recording.Audio, l.decoder.Channel)
	if err != nil {
		row.AudioDigest, _ = e.Set.AudioDigest(e.Recording.Audio) // of a header that cannot be read
		return nil, err
	}
	defer file.Close()
	clip, unread := l.decode(e, file, row)
	if errors.As(unread, new(*LargeError)) {
		return nil, unread
	}
	if r.File, err = e.Original(file.File); err != nil {
		return nil, err
	}
	if row.AudioDigest, err = file.Digest(); err != nil {
		return nil, err
	}
	if errors.Is(unread, ErrExcluded) {
		return nil, unread
	}
	if unread != nil {
		return nil, fmt.Errorf("%s: %w", dataset.Printable(e.Recording.Audio), unread)
	}
	row.Repairs = strings.Join(clip.Repairs, "; ")
	if l.Degrader != nil {
		if clip, _, err = l.Degrader.Change(clip, e.Recording.ID, len(e.Set.Copy.Earlier())); err != nil {
			return nil, err
		}
		row.Duration = ptr(clip.Duration())
	}
	if d := clip.Duration(); d < time.Duration(l.minDuration) {
		return nil, fmt.Errorf("%w: lasts %.3f s, less than the %v of min-duration", ErrExcluded, d.Seconds(), l.minDuration)
	}
	l.wave.Set(l.resampler.Resample(l.wave.X[:0], clip.Samples, clip.Rate))
	return clip, nil
}

// decode reads the samples of a recording, unless its header says that it lasts
// too long.
func (l *Loader) decode(e *Entry, file *dataset.Audio, row *table.Recording) (*audio.Clip, error) {
	clip, err := openClip(&l.decoder, file)
	if err != nil {
		return nil, err
	}
	clip.Length = e.Set.Copy.LengthOf(e.Recording.Audio)
	row.Duration = ptr(clip.Duration())
	row.Rate, row.Channels, row.Bits = ptr(int32(clip.Rate)), ptr(int32(clip.Channels)), ptr(int32(clip.BitsPerSample))
	row.Encoding = clip.Encoding
	if d := clip.Duration(); l.maxDuration > 0 && d > time.Duration(l.maxDuration) {
		return nil, fmt.Errorf("%w: lasts %.3f s, more than the %v of max-duration: cut it, or give a longer --max-duration and the memory for it",
			ErrExcluded, d.Seconds(), l.maxDuration)
	}
	need := MemoryFor(clip.Duration(), clip.Rate)
	if l.Degrader != nil {
		need += int64(clip.Frames) * degrade.BytesPerSample
	}
	if l.Most > 0 && need > l.Most {
		return nil, &LargeError{need}
	}
	return clip, l.decoder.ReadSamples()
}

// openClip opens a WAV file, or a signal of a WFDB record.
func openClip(d *audio.Decoder, file *dataset.Audio) (*audio.Clip, error) {
	if file.Signal != nil {
		return d.OpenSignal(file.Signal, file.Signals)
	}
	return d.Open(file)
}

// LargeError says that a recording was not read because it needs more memory
// than the loader may give it.
type LargeError struct{ Bytes int64 }

func (e *LargeError) Error() string { return fmt.Sprintf("needs %d MiB of memory", e.Bytes>>20) }

// MemoryFor returns about how much memory in bytes a recording of that length and
// rate takes while it is processed: a float64 per sample, and 170 bytes per
// sample at the rate of the analysis, as measured for recordings of one and two
// hours.
func MemoryFor(length time.Duration, rate int) int64 {
	return int64(length.Seconds() * float64(8*rate+170*signal.AnalysisRate))
}

// readReference reads the reference annotation of a recording. Where it cannot
// be used, the recording has no score, and its row says why.
func readReference(e *Entry, row *table.Recording) pcg.Reference {
	if e.Recording.Reference == "" {
		row.ReferenceNote = eval.NoReference
		return pcg.Reference{}
	}
	var rate int
	var length time.Duration
	if row.Rate != nil { // else the audio could not be read
		rate, length = int(*row.Rate), *row.Duration
	}
	ref, digest, err := e.Set.Reference(e.Recording, rate, length)
	row.ReferenceDigest = digest
	if errors.Is(err, dataset.ErrNoReference) {
		row.ReferenceNote = eval.NoReference
		return pcg.Reference{}
	}
	if err != nil {
		row.ReferenceNote = err.Error()
		return pcg.Reference{}
	}
	row.ReferenceKind = string(ref.Kind)
	if dataset.TraitsOf(ref.Kind).Durations {
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
