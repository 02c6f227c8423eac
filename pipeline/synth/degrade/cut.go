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

// cutAt is a cut at a sampling rate in hertz.
type cutAt struct {
	cut
	rate int
}

func (c cut) String() string {
	if c.low {
		return "low-cut=" + shortest(c.frequency)
	}
	return "high-cut=" + shortest(c.frequency)
}

func (c cut) apply(d *Degrader, x []float64, rate int, _ *rand.Rand) ([]float64, int, error) {
	if 2*c.frequency >= float64(rate) {
		if c.low {
			clear(x)
		}
		return x, rate, nil
	}
	f := d.cuts[cutAt{c, rate}]
	if f == nil {
		design := signal.ButterworthLowPass
		if c.low {
			design = signal.ButterworthHighPass
		}
		sos, err := design(filterOrder, c.frequency, float64(rate))
		if err != nil {
			return nil, 0, err
		}
		f = signal.NewZeroPhase(sos)
		d.cuts[cutAt{c, rate}] = f
	}
	return f.Filter(x, x), rate, nil
}
