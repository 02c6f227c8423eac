package features

import (
	"fmt"

	"phonocycle/pipeline/pcg"
)

// cepstralFeatures are the mel cepstra of the spectrum of each state.
func cepstralFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		for k := range cepstralCoefficients {
			f := Feature{
				Name: fmt.Sprintf("%smel_cepstrum_%02d", prefix(s), k), Unit: "1", Range: "any",
				Definition: fmt.Sprintf("coefficient %d of the orthonormal DCT-II of ln E; E the mean of P (FS²/Hz) in %v under each of %d triangles evenly spaced from 25 to 400 Hz in mel = 2595 log₁₀(1 + f/700), floored 100 dB below the greatest E", k, s, melFilters),
				Source:     "cepstrum: Davis and Mermelstein 1980, doi 10.1109/TASSP.1980.1163420; mel: O'Shaughnessy 1987, Speech Communication (from memory); settings ours",
				Null:       ofShortState, Statistics: MeanSD,
				ofCycle: spectral(i, func(s *state) float64 { return s.cepstrum[k] }),
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
