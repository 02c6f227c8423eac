package audio

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// MinRate and MaxRate bound the sampling rates, in hertz, that are read and
// resampled. Below MinRate the sounds of the heart no longer fit under half
// the rate; above MaxRate no recorder of body sounds works.
const (
	MinRate = 500
	MaxRate = 192_000
)

// MaxFrames bounds the samples of one channel that are read: 23 minutes at 48 kHz
// or 4.6 hours at 4 kHz, in 512 MiB of memory.
const MaxFrames = 1 << 26

// Clip is one recording in memory, reduced to one channel.
type Clip struct {
	// Samples holds one value a frame, full scale being 1. PCM lies in
	// [−1, 1); float samples are kept as they are, even beyond full scale.
	Samples []float64

	Frames        int    // in the file; as many as Samples, once these are read
	Rate          int    // frames a second
	Channels      int    // in the file
	BitsPerSample int    // significant bits of a sample in the file
	Encoding      string // as in "16-bit PCM" or "32-bit float"

	// Repairs says what was wrong with the file and how it was read
	// nevertheless. It is nil for a sound file.
	Repairs []string

	// Length is how long the recording lasts where that is known better than from the
	// number of frames, as when it was resampled; 0 elsewhere.
	Length time.Duration
}

// Duration returns how long the recording lasts: Length, or the number of frames over
// the rate, to the nearest nanosecond.
func (c *Clip) Duration() time.Duration {
	if c.Length > 0 {
		return c.Length
	}
	return pcg.FromSamples(int64(c.Frames), c.Rate)
}
