package features

import (
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
)

// The settings of the cepstra. Every published set is different; these follow
// the width of the band: filters of about 30 Hz, as wide as the lines of a
// sound of 100 ms.
const (
	melFilters           = 20
	cepstralCoefficients = 13
)

// cepstralFeatures are the mel cepstra of the spectrum of each state.
func cepstralFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		for k := range cepstralCoefficients {
			f := Feature{
				Name: fmt.Sprintf("%smel_cepstrum_%02d", prefix(s), k), Unit: "1", Range: "any",
				Definition: fmt.Sprintf("coefficient %d of the orthonormal DCT-II of ln E; E the mean of P (FS²/Hz) in %v under each of %d triangles evenly spaced from 25 to 400 Hz in mel = 2595 log₁₀(1 + f/700), floored 100 dB below the greatest E", k, s, melFilters),
				Source:     "Davis and Mermelstein 1980, doi 10.1109/TASSP.1980.1163420; settings ours",
				Null:       ofShortState, Statistics: MeanSD,
				ofCycle: func(c *cycle) float64 {
					if !c.state[i].hasSpectrum {
						return math.NaN()
					}
					return c.state[i].cepstrum[k]
				},
			}
			if k == 0 {
				f.Definition += "; a factor g of amplitude adds 2 √20 ln g"
				f.Scaling = Logarithmic
			}
			rows = append(rows, f)
		}
	}
	return rows
}
