package degrade

import (
	"fmt"
	"math/rand/v2"

	"phonocycle/pipeline/audio"
)

var rateKind = kind{key: "rate", example: "rate=500", make: func(value, _ string) (change, error) {
	rate, err := whole("rate", value, audio.MinRate, audio.MaxRate, "a sampling rate in hertz, a whole number")
	return newRate(rate), err
}}

// newRate is a sampling rate in hertz.
type newRate int

func (r newRate) String() string { return fmt.Sprintf("rate=%d", int(r)) }

func (r newRate) apply(w *workspace, x []float64, rate int, _ *rand.Rand) ([]float64, int, error) {
	if rate == int(r) {
		return x, rate, nil
	}
	if n := int64(len(x)) * int64(r) / int64(rate); n > audio.MaxFrames {
		return nil, 0, fmt.Errorf("%w: %d at %d Hz, and at most %d are held in memory: give a lower rate", audio.ErrTooLarge, n, int(r), audio.MaxFrames)
	}
	buffer := &w.resampled[0]
	if len(*buffer) > 0 && len(x) > 0 && &(*buffer)[0] == &x[0] { // of a change before
		buffer = &w.resampled[1]
	}
	return w.resample(buffer, x, rate, int(r)), int(r), nil
}
