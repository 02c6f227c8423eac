package features

import (
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
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

// detail is what is measured of the details of one band in a state.
type detail struct{ energy, evenness float64 }

// viewWavelet fills in what is measured of the details of a state.
func (e *Extractor) viewWavelet(s *state) {
	for k, b := range waveletBands {
		d := e.details[b.level-1][s.from:s.to]
		e.squares = slices.Grow(e.squares[:0], len(d))[:len(d)]
		e.logs = slices.Grow(e.logs[:0], len(d))[:len(d)]
		simd.Weigh(e.squares, d, d, 0)
		simd.Log(e.logs, e.squares)
		energy := energy(d)
		s.wavelet[k] = detail{energy, signal.Evenness(e.squares, e.logs, energy)}
	}
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
						return c.state[i].wavelet[k].evenness
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
	for _, d := range s.wavelet {
		total += d.energy
	}
	return ratio(s.wavelet[k].energy, total)
}

// energy returns Σ d².
func energy(d []float64) float64 { return simd.Dot(d, d) }
