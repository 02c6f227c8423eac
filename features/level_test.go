package features

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestLevelIsThatOfEachValue(t *testing.T) {
	r := rand.New(rand.NewPCG(27, 28))
	for n := 1; n < 70; n++ {
		x := make([]float64, n)
		sum, peak, changes, last := 0.0, 0.0, 0, 0.0
		for i := range x {
			x[i] = float64(r.IntN(11) - 5) // sums are exact in any order
			sum += math.Abs(x[i])
			peak = math.Max(peak, math.Abs(x[i]))
			if x[i]*last < 0 {
				changes++
			}
			if x[i] != 0 {
				last = x[i]
			}
		}
		got := levelOf(x, 1)
		if got.meanAbs != sum/float64(n) || got.peak != peak || got.crossings != changes {
			t.Errorf("%v: %v, want mean magnitude %v, peak %v, %d crossings", x, got, sum/float64(n), peak, changes)
		}
	}
}
