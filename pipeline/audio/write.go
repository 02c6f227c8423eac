package audio

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
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
// rate in hertz.
//
// A sample v is written as v·2^15 rounded to the nearest integer (halves away
// from zero), and 1 as the largest integer there is, 32767: what is read back
// differs by at most half a step, 2^−16, or a whole one at 1. A sample that is
// not finite or beyond [−1, 1] is an error that gives its index: scale the
// signal first, since clipping it silently would alter its spectrum.
func WriteWAV(w io.Writer, samples []float64, rate int) error {
	return PCM16.Write(w, samples, rate)
}

// Write writes samples as a file of one channel at the given rate in hertz; see
// [WriteWAV] for 16-bit PCM. A 32-bit float is the nearest one to the sample.
func (f Format) Write(w io.Writer, samples []float64, rate int) error {
	if err := f.check(samples, rate); err != nil {
		return fmt.Errorf("writing WAV: %w", err)
	}
	b := f.header(len(samples), rate)
	for at := 0; at < len(samples); at += writeBlock {
		for _, v := range samples[at:min(at+writeBlock, len(samples))] {
			if f == Float32 {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
			} else {
				b = binary.LittleEndian.AppendUint16(b, uint16(int16(min(math.Round(v*0x1p15), math.MaxInt16))))
			}
		}
		if _, err := w.Write(b); err != nil {
			return fmt.Errorf("writing WAV: %w", err)
		}
		b = b[:0]
	}
	return nil
}

// writeBlock is the number of samples that are written at once.
const writeBlock = 1 << 16

// bytes returns the size of a sample.
func (f Format) bytes() int {
	if f == Float32 {
		return 4
	}
	return 2
}

// check refuses samples that cannot be written.
func (f Format) check(samples []float64, rate int) error {
	const mostHeader = 58
	switch {
	case rate < MinRate || rate > MaxRate:
		return fmt.Errorf("%w: %d Hz, want %d to %d Hz", ErrRate, rate, MinRate, MaxRate)
	case len(samples) == 0:
		return fmt.Errorf("%w: an empty recording cannot be read back", ErrNoSamples)
	case int64(len(samples)) > (math.MaxUint32-mostHeader)/int64(f.bytes()):
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

// header returns what stands before n samples. A file that is not PCM has the size of an
// extension in its fmt chunk, which is zero, and the number of samples in a fact chunk
// (Microsoft, Multiple Channel Audio Data and WAVE Files, 2001).
func (f Format) header(n, rate int) []byte {
	le := binary.LittleEndian
	size := f.bytes()
	format := []byte("fmt ")
	code, length, fact := uint16(codePCM), uint32(fmtBasic), []byte(nil)
	if f == Float32 {
		code, length = codeFloat, fmtBasic+2
		fact = le.AppendUint32(append(fact, "fact\x04\x00\x00\x00"...), uint32(n))
	}
	format = le.AppendUint32(format, length)
	format = le.AppendUint16(format, code)
	format = le.AppendUint16(format, 1) // channels
	format = le.AppendUint32(format, uint32(rate))
	format = le.AppendUint32(format, uint32(rate*size))
	format = le.AppendUint16(format, uint16(size))
	format = le.AppendUint16(format, uint16(8*size))
	if f == Float32 {
		format = le.AppendUint16(format, 0)
	}
	rest := append(append(format, fact...), "data"...)
	rest = le.AppendUint32(rest, uint32(n*size))
	b := le.AppendUint32([]byte("RIFF"), uint32(len("WAVE")+len(rest)+n*size))
	return append(append(b, "WAVE"...), rest...)
}
