package lanes

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestAssemblyAgreesOnSorts(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 20))
	for n := range 70 {
		x := noise(r, Width*n)
		for i := range n {
			x[r.IntN(len(x))] = math.Copysign(0, float64(i%2)-0.5)
		}
		bothWays(t, "Sort", func() []float64 { y := slices.Clone(x); Sort(y); return y })
	}
}
