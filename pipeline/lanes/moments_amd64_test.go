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
		bothWays(t, "OscillationOf", func() []float64 {
			o := OscillationOf(append(x, 0.5))
			return []float64{o.Sum, o.Least, o.Greatest, float64(o.Changes)}
		})
	}
}
