package features

import (
	"math"
	"strings"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// The places of the states within a cycle.
const (
	s1 = iota
	systole
	s2
	diastole
)

// cycle is what the function of a cycle feature sees: everything that several
// features need of one cycle, computed once.
type cycle struct {
	at    pcg.CycleTimes
	state [4]state
	split split

	templates templateMatcher
	places    []float64 // k + ½ of the sample k of a state
}

// state is one of the four states of a cycle.
type state struct {
	from, to     int       // samples of the signals at 1 kHz
	y            []float64 // band-limited to 25 to 400 Hz
	envelope     []float64 // Hilbert envelope of y
	murmur       []float64 // band-limited to 150 to 400 Hz
	level        level     // of y; NaN where y has fewer than two samples
	envelopeMean float64
	silent       bool // no amplitude worth a ratio

	highShare float64 // of 400 to 800 Hz in v; NaN where there is none

	// The rest is only valid where hasSpectrum is set.
	hasSpectrum bool
	spectrum    signal.Spectrum // of x
	highest     signal.Spectrum // of v, where there is one
	shape       signal.Shape    // of the spectrum at 25 to 400 Hz
	cepstrum    [cepstralCoefficients]float64
	wavelet     [len(waveletBands)]detail
}

// prefix returns the beginning of the names of a state's features.
func prefix(s pcg.State) string { return strings.ToLower(s.String()) + "_" }

// audible returns the function that measures the i-th state of a cycle and gives
// NaN where it is silent.
func audible(i int, of func(*state) float64) func(*cycle) float64 {
	return func(c *cycle) float64 {
		if c.state[i].silent {
			return math.NaN()
		}
		return of(&c.state[i])
	}
}

// spectral returns the function that measures the i-th state of a cycle and
// gives NaN where it has no spectrum.
func spectral(i int, of func(*state) float64) func(*cycle) float64 {
	return func(c *cycle) float64 {
		if !c.state[i].hasSpectrum {
			return math.NaN()
		}
		return of(&c.state[i])
	}
}
