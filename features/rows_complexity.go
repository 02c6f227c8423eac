package features

import (
	"math"

	"phonocycle/pipeline/pcg"
)

const (
	entropyLeast = 50  // samples, fewest
	entropyMost  = 512 // samples, most: the cost grows with their square
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
				return c.templates.sampleEntropy(y[:min(len(y), entropyMost)])
			},
		})
	}
	return rows
}
