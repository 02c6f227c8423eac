package features

import (
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// waveletBands are the bands of the undecimated transform at 1 kHz: level j of
// a dyadic transform nominally holds 1000/2^(j+1) to 1000/2^j hertz.
var waveletBands = [...]struct {
	level int
	name  string
	words string
}{
	{4, "31_62_hz", "31.25 to 62.5 Hz"},
	{3, "62_125_hz", "62.5 to 125 Hz"},
	{2, "125_250_hz", "125 to 250 Hz"},
	{1, "250_500_hz", "250 to 500 Hz"},
}

// newWavelet returns the plan of all bands.
func newWavelet() *signal.Wavelet {
	low, high, _, _ := signal.ReverseBiorthogonal39()
	return signal.NewWavelet(low, high, len(waveletBands))
}

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
					ofCycle:    func(c *cycle) float64 { return waveletShare(&c.state[i], k) },
				},
				Feature{
					Name: prefix(s) + "wavelet_" + b.name + "_entropy", Unit: "1", Range: "0 to 1",
					Definition: fmt.Sprintf("−Σ p ln p / ln n, p = d² / Σ d² over the n samples of %v, of the details d at nominally %s: 1 where the energy is spread evenly over the state", s, b.words),
					ofCycle: func(c *cycle) float64 {
						if !c.state[i].hasSpectrum {
							return math.NaN()
						}
						return energyEntropy(c.state[i].details[k])
					},
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

func waveletShare(s *state, k int) float64 {
	if !s.hasSpectrum {
		return math.NaN()
	}
	var total float64
	for _, d := range s.details {
		total += energy(d)
	}
	return ratio(energy(s.details[k]), total)
}

func energy(d []float64) float64 {
	var e float64
	for _, v := range d {
		e += v * v
	}
	return e
}

// energyEntropy returns the entropy of how the energy of d is spread over its
// samples, over its greatest value.
func energyEntropy(d []float64) float64 {
	total := energy(d)
	if !(total > 0) || len(d) < 2 {
		return math.NaN()
	}
	var h float64
	for _, v := range d {
		if p := v * v / total; p > 0 {
			h -= p * math.Log(p)
		}
	}
	return h / math.Log(float64(len(d)))
}
