package degrade

import (
	"math"
	"math/rand/v2"
	"slices"
)

var clipKind = kind{key: "clip", example: "clip=0.01", make: func(value, _ string) (change, error) {
	s, err := share("clip", value)
	return clipped(s), err
}}

// clipped is a share of the samples.
type clipped float64

func (c clipped) String() string { return "clip=" + shortest(float64(c)) }

func (c clipped) apply(w *workspace, x []float64, rate int, _ *rand.Rand) ([]float64, int, error) {
	k := count(float64(c), len(x))
	if k == 0 {
		return x, rate, nil
	}
	w.sorted = resize(w.sorted, len(x))
	for i, v := range x {
		w.sorted[i] = math.Abs(v)
	}
	slices.Sort(w.sorted)
	level := w.sorted[len(x)-k]
	for i, v := range x {
		x[i] = max(-level, min(v, level))
	}
	return x, rate, nil
}
