package simd

import (
	"math"
	"testing"
)

// The greatest magnitude is found wherever it stands, whatever its sign.
func TestPeak(t *testing.T) {
	for n := range 70 {
		for at := range n {
			for _, greatest := range []float64{3, -3, math.Inf(-1), 0x1p-1070, math.NaN()} {
				x := make([]float64, n)
				for i := range x {
					x[i] = math.Copysign(min(2, math.Abs(greatest)/2), float64(i%3-1))
				}
				if math.IsNaN(greatest) {
					x[0] = math.Inf(1)
				}
				x[at] = greatest
				got := MaxAbs(x)
				if got != math.Abs(greatest) && !(math.IsNaN(got) && math.IsNaN(greatest)) {
					t.Fatalf("peak of %d values with %v at %d: %v", n, greatest, at, got)
				}
			}
		}
	}
	if got := MaxAbs(nil); got != 0 {
		t.Errorf("peak of nothing: %v", got)
	}
}

func TestPeaksAreOfEachSequence(t *testing.T) {
	for n := range 20 {
		x := make([]float64, Width*n)
		var want [Width]float64
		for i := range x {
			x[i] = float64(i*i%31) - 20
			want[i%Width] = max(want[i%Width], math.Abs(x[i]))
		}
		if got := MaxAbsInterleaved(x); got != want {
			t.Errorf("peaks of %d values each: %v, want %v", n, got, want)
		}
	}
}
