package audio

import (
	"fmt"
	"io"
	"math"

	goaudio "github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// WriteWAV writes samples as a 16-bit PCM file of one channel at the given
// rate in hertz. The file begins at the first byte of w, which is not closed.
//
// A sample v is written as v·2^15 rounded to the nearest integer (halves away
// from zero), and 1 as the largest integer there is, 32767: what is read back
// differs by at most half a step, 2^−16, or a whole one at 1. A sample that is
// not finite or beyond [−1, 1] is an error that gives its index: scale the
// signal first, since clipping it silently would alter its spectrum.
func WriteWAV(w io.WriteSeeker, samples []float64, rate int) error {
	const (
		bytesPerSample = 2
		header         = 44
		bits           = 8 * bytesPerSample
		pcm            = codePCM
		block          = 4096
	)
	if rate < MinRate || rate > MaxRate {
		return fmt.Errorf("writing WAV: %w: %d Hz, want %d to %d Hz", ErrRate, rate, MinRate, MaxRate)
	}
	if len(samples) == 0 {
		return fmt.Errorf("writing WAV: %w: an empty recording cannot be read back", ErrNoSamples)
	}
	if int64(len(samples)) > (math.MaxUint32-header)/bytesPerSample {
		return fmt.Errorf("writing WAV: %w: %d samples: split the recording", ErrTooLong, len(samples))
	}
	for i, v := range samples {
		if v-v != 0 {
			return fmt.Errorf("writing WAV: %w: sample %d: %v", ErrNotFinite, i, v)
		}
		if math.Abs(v) > 1 {
			return fmt.Errorf("writing WAV: %w: sample %d: %v: scale the signal to [−1, 1]", ErrFullScale, i, v)
		}
	}

	enc := wav.NewEncoder(w, rate, bits, 1, pcm)
	buf := &goaudio.IntBuffer{
		Format:         &goaudio.Format{NumChannels: 1, SampleRate: rate},
		SourceBitDepth: bits,
		Data:           make([]int, 0, block),
	}
	for at := 0; at < len(samples); at += block {
		buf.Data = buf.Data[:0]
		for _, v := range samples[at:min(at+block, len(samples))] {
			buf.Data = append(buf.Data, int(min(math.Round(v*0x1p15), math.MaxInt16)))
		}
		if err := enc.Write(buf); err != nil {
			return fmt.Errorf("writing WAV: %w", err)
		}
	}
	if err := enc.Close(); err != nil {
		return fmt.Errorf("writing WAV: finishing the header: %w", err)
	}
	return nil
}
