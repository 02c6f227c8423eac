package features

import (
	"fmt"

	"phonocycle/pipeline/pcg"
)

// waveletFeatures are the energies and entropies of the wavelet coefficients
// within each state.
func waveletFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		for k, b := range waveletBands {
			rows = append(rows,
				Feature{
					Name: prefix(s) + "wavelet_" + b.name + "_share", Unit: "1", Range: "0 to 1",
					Definition: fmt.Sprintf("Σ d² in %v of the details d at nominally %s / the same of all four bands from 31.25 to 500 Hz", s, b.words),
					ofCycle:    spectral(i, func(s *state) float64 { return waveletShare(s, k) }),
				},
				Feature{
					Name: prefix(s) + "wavelet_" + b.name + "_entropy", Unit: "1", Range: "0 to 1",
					Definition: fmt.Sprintf("−Σ p ln p / ln n, p = d² / Σ d² over the n samples of %v, of the details d at nominally %s: 1 where the energy is spread evenly over the state", s, b.words),
					ofCycle:    spectral(i, func(s *state) float64 { return s.wavelet[k].evenness }),
				},
			)
		}
	}
	for k := range rows {
		rows[k].Null, rows[k].Statistics = ofShortState, MeanSD
		rows[k].Source = "Cohen, Daubechies and Feauveau 1992, doi 10.1002/cpa.3160450502; the measures are common practice"
	}
	return rows
}

// waveletShare returns the share of band k in the energy of all bands.
func waveletShare(s *state, k int) float64 {
	var total float64
	for _, d := range s.wavelet {
		total += d.energy
	}
	return ratio(s.wavelet[k].energy, total)
}
