package simd

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestOscillationIsThatOfEachValue(t *testing.T) {
	r := rand.New(rand.NewPCG(27, 28))
	for n := 1; n < 70; n++ {
		x := make([]float64, n)
		want := Oscillation{Least: math.Inf(1)}
		for i := range x {
			x[i] = float64(r.IntN(2000) - 1000) // sums are exact in any order
			if i > 0 && math.Signbit(x[i]) != math.Signbit(x[i-1]) {
				want.Changes++
			}
			want.Sum += math.Abs(x[i])
			want.Least = math.Min(want.Least, math.Abs(x[i]))
			want.Greatest = math.Max(want.Greatest, math.Abs(x[i]))
		}
		if got := OscillationOf(x); got != want {
			t.Errorf("%v: %v, want %v", x, got, want)
		}
	}
}
