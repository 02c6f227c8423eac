package features

import (
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// measureCycle fills c with what several features need of the cycle at the given
// times.
func (e *Extractor) measureCycle(c *cycle, at pcg.CycleTimes) {
	c.at = at
	for i := range c.state {
		e.measureLevel(&c.state[i], at[i], at[i+1])
	}
	e.estimateSpectra(c)
	for i := range c.state {
		if s := &c.state[i]; s.hasSpectrum {
			e.measureSpectrum(s)
			e.measureWavelet(s)
		}
	}
	c.split = split{seconds: math.NaN(), confidence: math.NaN()}
	if s := &c.state[s2]; !s.silent && len(s.envelope) >= splitShortest {
		c.split, e.smooth = splitOf(s.envelope, e.smooth)
	}
}

// measureLevel fills in the samples of a state and how loud they are.
func (e *Extractor) measureLevel(s *state, start, end time.Duration) {
	y := e.wave.Band()
	s.from = min(pcg.ToSamples(start, signal.AnalysisRate), len(y))
	s.to = min(pcg.ToSamples(end, signal.AnalysisRate), len(y))
	s.y, s.envelope, s.murmur = y[s.from:s.to], e.wave.Envelope()[s.from:s.to], e.murmur[s.from:s.to]
	s.level = levelOf(s.y, 2)
	s.envelopeMean = mean(s.envelope)
	s.silent = s.level.silent()
	s.hasSpectrum = !s.silent && len(s.y) >= spectrumLeast
	s.highShare = math.NaN()
}

// estimateSpectra fills in the spectra of the states of c that have one, all in
// one transform where those of x and of v have the same grid. There each state's
// two are paired, which are of like loudness.
func (e *Extractor) estimateSpectra(c *cycle) {
	const states = len(c.state)
	of := [2 * states]signal.Stretch{} // of x, then of v
	for i := range c.state {
		of[i].Rate, of[states+i].Rate = signal.AnalysisRate, e.raw.vRate
		if s := &c.state[i]; s.hasSpectrum {
			of[i].Samples = e.wave.X[s.from:s.to]
			if e.raw.decimator != nil {
				of[states+i].Samples = e.raw.between(c.at[i], c.at[i+1])
			}
		}
	}
	switch spectra := e.spectra[:]; {
	case e.raw.decimator == nil:
		e.periodogram.Estimates(spectra[:states], of[:states])
	case e.raw.periodogram.Points() == e.periodogram.Points():
		e.periodogram.Estimates(spectra, of[:])
	default:
		e.periodogram.Estimates(spectra[:states], of[:states])
		e.raw.periodogram.Estimates(spectra[states:], of[states:])
	}
	for i := range c.state {
		c.state[i].spectrum, c.state[i].highest = e.spectra[i], e.spectra[states+i]
	}
}

// measureSpectrum fills in what is measured on the spectra of a state.
func (e *Extractor) measureSpectrum(s *state) {
	s.shape.Of(s.spectrum.Band(signal.BandLow, signal.BandHigh))
	e.mel.Transform(s.cepstrum[:], s.spectrum)
	if e.raw.decimator != nil {
		s.highShare = highShare(s.highest)
	}
}

// measureWavelet fills in what is measured of the details of a state.
func (e *Extractor) measureWavelet(s *state) {
	for k, b := range waveletBands {
		d := e.details[b.level-1][s.from:s.to]
		e.squares = slices.Grow(e.squares[:0], len(d))[:len(d)]
		e.logs = slices.Grow(e.logs[:0], len(d))[:len(d)]
		simd.SubMul(e.squares, d, d, 0)
		simd.Log(e.logs, e.squares)
		energy := energy(d)
		s.wavelet[k] = detail{energy, signal.Evenness(e.squares, e.logs, energy)}
	}
}
