package lanes

import (
	"math/rand/v2"
	"testing"
)

func TestAssemblyAgreesOnMoments(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	for n := range 70 {
		x := noise(r, n)
		bothWays(t, "Moments", func() []float64 {
			second, third, fourth := Moments(x, 0.25)
			return []float64{second, third, fourth}
		})
		bothWays(t, "Limits", func() []float64 {
			low, high := Limits(x)
			return []float64{low, high}
		})
	}
}
