package features

import (
	"math"
	"math/rand/v2"
	"testing"
)

// countedEntropy is the definition, pair by pair.
func countedEntropy(x []float64) float64 {
	r := 0.2 * math.Sqrt(momentsOf(x).second)
	near := func(a, b float64) bool { return math.Abs(a-b) <= r }
	var pairs, longer int
	for i := 0; i+2 < len(x); i++ {
		for j := i + 1; j+2 < len(x); j++ {
			if near(x[i], x[j]) && near(x[i+1], x[j+1]) {
				pairs++
				if near(x[i+2], x[j+2]) {
					longer++
				}
			}
		}
	}
	if longer == 0 {
		return math.NaN()
	}
	return math.Log(float64(pairs) / float64(longer))
}

func TestSampleEntropyCountsEveryPair(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	var m templateMatcher
	for trial := range 300 {
		x := make([]float64, rng.IntN(300))
		if trial%10 == 0 {
			x = make([]float64, 60+trial%9)
		}
		for i := range x {
			switch trial % 4 {
			case 0: // ties
				x[i] = float64(rng.IntN(6))
			case 1: // outliers
				x[i] = math.Exp(3 * rng.NormFloat64())
			case 2:
				x[i] = math.Sin(0.3*float64(i)) + 0.1*rng.NormFloat64()
			}
		}
		got, want := m.sampleEntropy(x), countedEntropy(x)
		if got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Fatalf("trial %d, %d samples: %v, want %v", trial, len(x), got, want)
		}
	}
}
