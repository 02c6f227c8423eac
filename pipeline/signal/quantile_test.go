package signal

import (
	"math"
	"slices"
	"testing"
)

// Values of numpy.quantile (NumPy 1.24.2, default method) on the same numbers:
//
//	numpy.quantile([1, 2, 4, 8, 16, 32], [0, .1, .25, .5, .9, 1])
func TestQuantile(t *testing.T) {
	x := []float64{1, 2, 4, 8, 16, 32}
	for q, want := range map[float64]float64{0: 1, 0.1: 1.5, 0.25: 2.5, 0.5: 6, 0.9: 24, 1: 32} {
		if got := Quantile(x, q); math.Abs(got-want) > 1e-12 {
			t.Errorf("quantile %v is %v, want %v", q, got, want)
		}
	}
	if got := Quantile(x[1:2], 0.3); got != 2 {
		t.Errorf("quantile of a single 2 is %v", got)
	}
	if got := Quantile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("median of nothing is %v, want NaN", got)
	}
	x = noise(101, 7)
	slices.Sort(x)
	last := math.Inf(-1)
	for q := 0.0; q <= 1; q += 1.0 / 256 {
		got := Quantile(x, q)
		if got < last || got < x[0] || got > x[100] {
			t.Errorf("quantile %g is %v after %v", q, got, last)
		}
		last = got
	}
}
