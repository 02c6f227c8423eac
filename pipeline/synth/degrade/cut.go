package degrade

import (
	"math/rand/v2"

	"phonocycle/pipeline/signal"
)

// Bounds of the frequency of a cut in hertz.
const (
	minCut = 1
	maxCut = 20_000
)

var (
	lowCutKind  = kind{key: "low-cut", example: "low-cut=40", make: makeCut("low-cut", true)}
	highCutKind = kind{key: "high-cut", example: "high-cut=150", make: makeCut("high-cut", false)}
)

func makeCut(key string, low bool) func(value, _ string) (change, error) {
	return func(value, _ string) (change, error) {
		f, err := number(key, value, minCut, maxCut, "a frequency in hertz")
		return cut{low, f}, err
	}
}

// cut removes the frequencies on one side of its own.
type cut struct {
	low       bool // those below
	frequency float64
}

func (c cut) String() string {
	if c.low {
		return "low-cut=" + shortest(c.frequency)
	}
	return "high-cut=" + shortest(c.frequency)
}

func (c cut) apply(w *workspace, x []float64, rate int, _ *rand.Rand) ([]float64, int, error) {
	if 2*c.frequency >= float64(rate) {
		if c.low {
			clear(x)
		}
		return x, rate, nil
	}
	f := w.filter(c.String(), rate, func(order int, fs float64) (signal.SOS, error) {
		if c.low {
			return signal.ButterworthHighPass(order, c.frequency, fs)
		}
		return signal.ButterworthLowPass(order, c.frequency, fs)
	})
	return f.Filter(x, x), rate, nil
}
