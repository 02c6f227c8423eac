package features

import (
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// The grid and the band of the spectra of a state.
const (
	spectrumPoints = 1024 // at 1 kHz: bins 0.977 Hz apart, a state of up to 1.024 s unfolded
	bandLow        = 25.0
	bandHigh       = 400.0
	spectrumLeast  = 40 // samples: one period of the lowest frequency
)

const ofShortState = "the state is shorter than 40 ms or silent (RMS of y below 1e-9 FS)"

// bandEdges divide the band of the spectra, in hertz. Source: Potes et al.
// 2016, Computing in Cardiology (from memory), whose filters end there.
var bandEdges = [...]float64{25, 45, 80, 200, 400}

// spectralFeatures are measured on the spectrum of each state.
func spectralFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		rows = append(rows, stateSpectrum(i, s)...)
	}
	return rows
}

// stateSpectrum are the spectral features of the i-th state of the cycle.
func stateSpectrum(i int, s pcg.State) []Feature {
	measure := func(name, unit, limits, definition string, of func(signal.Spectrum) float64) Feature {
		return Feature{
			Name: prefix(s) + name, Unit: unit, Range: limits, Source: "common practice",
			Definition: definition, Null: ofShortState, Statistics: Four,
			ofCycle: func(c *cycle) float64 {
				if !c.state[i].hasSpectrum {
					return math.NaN()
				}
				return of(c.state[i].spectrum)
			},
		}
	}
	in := " of P, the Hann-windowed periodogram of " + s.String() + " from 25 to 400 Hz"
	rows := []Feature{
		measure("centroid_hz", "Hz", "25 to 400", "Σ f P / Σ P"+in, signal.Spectrum.Centroid),
	}
	for b := range len(bandEdges) - 1 {
		low, high := bandEdges[b], bandEdges[b+1]
		f := measure(fmt.Sprintf("band_%g_%g_hz_share", low, high), "1", "0 to 1",
			fmt.Sprintf("Σ P over %g ≤ f < %g Hz / Σ P%s", low, high, in),
			func(p signal.Spectrum) float64 { return p.Share(low, high) })
		f.Source = "Potes et al. 2016, Computing in Cardiology (bands from memory)"
		rows = append(rows, f)
	}
	return rows
}
