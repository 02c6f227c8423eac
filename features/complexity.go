package features

import (
	"math"

	"phonocycle/pipeline/pcg"
)

const (
	entropyLeast = 50  // samples, fewest
	entropyMost  = 512 // samples, most: the cost grows with their square
	richman2000  = "Richman and Moorman 2000, Am J Physiol 278:H2039, doi 10.1152/ajpheart.2000.278.6.H2039"
)

// complexityFeatures are the sample entropies of the states.
func complexityFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		rows = append(rows, Feature{
			Name: prefix(s) + "sample_entropy", Unit: "1", Range: "≥ 0", Source: richman2000,
			Definition: "ln(N₂/N₃) of y in " + s.String() + ", its first 512 ms at most, with m = 2 and r = 0.2 · SD: N₂ and N₃ count the pairs among the n − 2 places of which the first 2 and the first 3 samples differ by at most r",
			Null:       "the state is shorter than 50 ms or silent (RMS of y below 1e-9 FS), or N₃ is 0",
			Statistics: Four,
			ofCycle: func(c *cycle) float64 {
				y := c.state[i].y
				if c.state[i].silent || len(y) < entropyLeast {
					return math.NaN()
				}
				return c.entropy.of(y[:min(len(y), entropyMost)])
			},
		})
	}
	return rows
}

// sampleEntropy holds the buffers of the computation.
type sampleEntropy struct{ pairs templateMatcher }

// of returns the sample entropy ln(N₂/N₃) of x with m = 2 and r = 0.2 times the
// standard deviation (n in the denominator): of all pairs of the n − 2 places
// where a template of three samples can begin, N₂ have first and second samples
// that differ by at most r, and N₃ of these the third as well. It is NaN if
// there are none.
func (e *sampleEntropy) of(x []float64) float64 {
	r := 0.2 * math.Sqrt(squares(x, mean(x))/float64(len(x)))
	two, three := e.pairs.templateMatches(x, r)
	if three == 0 {
		return math.NaN()
	}
	return math.Log(float64(two) / float64(three))
}
