package audio

import (
	"fmt"
	"io"
	"math"

	goaudio "github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// Format is a way in which samples are written to a WAV file.
type Format int

// The formats.
const (
	PCM16   Format = iota // 16-bit PCM, for samples from −1 to 1 less a step of 2^−15
	Float32               // 32-bit IEEE float, for any
)

func (f Format) String() string { return [...]string{"16-bit PCM", "32-bit float"}[f] }

// Round rounds samples to values that a WAV file holds exactly, and returns the format in
// which it does: [PCM16] where the samples come from a recording of at most 16 bits and
// none is beyond full scale, else [Float32], so that nothing is clipped and no recording
// is scaled. A sample v becomes v·2^15 rounded to the nearest integer, halves away from
// zero, and at most 32767, over 2^15; or the nearest 32-bit float.
func Round(x []float64, bits int) Format {
	if peak, _ := magnitude(x); peak > 1 || bits > 16 {
		for i, v := range x {
			x[i] = float64(float32(v))
		}
		return Float32
	}
	for i, v := range x {
		x[i] = min(math.Round(v*0x1p15), math.MaxInt16) * 0x1p-15
	}
	return PCM16
}

// WriteWAV writes samples as a 16-bit PCM file of one channel at the given
// rate in hertz. The file begins at the first byte of w, which is not closed.
//
// A sample v is written as v·2^15 rounded to the nearest integer (halves away
// from zero), and 1 as the largest integer there is, 32767: what is read back
// differs by at most half a step, 2^−16, or a whole one at 1. A sample that is
// not finite or beyond [−1, 1] is an error that gives its index: scale the
// signal first, since clipping it silently would alter its spectrum.
func WriteWAV(w io.WriteSeeker, samples []float64, rate int) error {
	return PCM16.Write(w, samples, rate)
}

// Write writes samples as a file of one channel at the given rate in hertz; see
// [WriteWAV] for 16-bit PCM. A 32-bit float is the nearest one to the sample.
func (f Format) Write(w io.WriteSeeker, samples []float64, rate int) error {
	if err := f.check(samples, rate); err != nil {
		return fmt.Errorf("writing WAV: %w", err)
	}
	enc := wav.NewEncoder(w, rate, f.bits(), 1, int(f.code()))
	buf := &goaudio.IntBuffer{
		Format:         &goaudio.Format{NumChannels: 1, SampleRate: rate},
		SourceBitDepth: f.bits(),
		Data:           make([]int, 0, writeBlock),
	}
	for at := 0; at < len(samples); at += writeBlock {
		buf.Data = buf.Data[:0]
		for _, v := range samples[at:min(at+writeBlock, len(samples))] {
			buf.Data = append(buf.Data, f.number(v))
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

// writeBlock is the number of samples that are written at once.
const writeBlock = 4096

// number returns the integer that stands for a sample. The encoder writes integers only:
// of a float it gets the bits.
func (f Format) number(v float64) int {
	if f == Float32 {
		return int(int32(math.Float32bits(float32(v))))
	}
	return int(min(math.Round(v*0x1p15), math.MaxInt16))
}

// bits returns the size of a sample.
func (f Format) bits() int {
	if f == Float32 {
		return 32
	}
	return 16
}

// code returns the format tag of the file.
func (f Format) code() uint16 {
	if f == Float32 {
		return codeFloat
	}
	return codePCM
}

// check refuses samples that cannot be written.
func (f Format) check(samples []float64, rate int) error {
	const header = 44
	switch {
	case rate < MinRate || rate > MaxRate:
		return fmt.Errorf("%w: %d Hz, want %d to %d Hz", ErrRate, rate, MinRate, MaxRate)
	case len(samples) == 0:
		return fmt.Errorf("%w: an empty recording cannot be read back", ErrNoSamples)
	case int64(len(samples)) > (math.MaxUint32-header)/int64(f.bits()/8):
		return fmt.Errorf("%w: %d samples: split the recording", ErrTooLong, len(samples))
	}
	for i, v := range samples {
		if v-v != 0 {
			return fmt.Errorf("%w: sample %d: %v", ErrNotFinite, i, v)
		}
		if f == PCM16 && math.Abs(v) > 1 {
			return fmt.Errorf("%w: sample %d: %v: scale the signal to [−1, 1]", ErrFullScale, i, v)
		}
	}
	return nil
}
