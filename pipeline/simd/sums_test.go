package simd

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestMomentsAreSumsOfPowers(t *testing.T) {
	// Whole numbers, whose sums are exact in any order.
	for n := range 50 {
		x := make([]float64, n)
		var want [3]float64
		for i := range x {
			x[i] = float64(i*i%13 - 4)
			d := x[i] - 2
			want[0] += d * d
			want[1] += d * d * d
			want[2] += d * d * d * d
		}
		a, b, c := Moments(x, 2)
		if got := [3]float64{a, b, c}; got != want {
			t.Errorf("%d values: %v, want %v", n, got, want)
		}
	}
}

func TestLimits(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	for n := 1; n < 60; n++ {
		x := make([]float64, n)
		low, high := math.Inf(1), math.Inf(-1)
		for i := range x {
			x[i] = r.NormFloat64()
			if i > 0 && r.IntN(4) == 0 {
				x[i] = math.NaN()
				continue
			}
			low, high = math.Min(low, x[i]), math.Max(high, x[i])
		}
		if a, b := MinMax(x); a != low || b != high {
			t.Errorf("%v: %v and %v, want %v and %v", x, a, b, low, high)
		}
	}
	for _, x := range [][]float64{nil, {math.NaN(), 1, 2, 3, 4, 5, 6, 7, 8, 9}} {
		if a, b := MinMax(x); !math.IsNaN(a) || !math.IsNaN(b) {
			t.Errorf("%v: %v and %v, want NaN", x, a, b)
		}
	}
}
