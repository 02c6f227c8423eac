package audio

import "errors"

// The ways in which a recording can be unusable. Errors of [Decoder] and
// [WriteWAV] wrap one of these with the place in the file and the remedy.
var (
	ErrNotWAV    = errors.New("not a WAV file")
	ErrNoFormat  = errors.New("no fmt chunk")
	ErrFormat    = errors.New("fmt chunk contradicts itself")
	ErrEncoding  = errors.New("unsupported sample encoding")
	ErrRate      = errors.New("sampling rate out of range")
	ErrChannel   = errors.New("no such channel")
	ErrNoSamples = errors.New("no samples")
	ErrNotFinite = errors.New("sample is not a finite number")
	ErrFullScale = errors.New("sample beyond full scale")
	ErrTooLarge  = errors.New("too many samples to process")
	ErrTooLong   = errors.New("too many samples for a WAV file")
)
