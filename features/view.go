package features

import (
	"math"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// cycle is what the function of a cycle feature sees: everything that several
// features need of one cycle, computed once.
type cycle struct {
	at    bounds
	state [4]state
	split split

	entropy sampleEntropy
	places  []float64 // k + ½ of the sample k of a state
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

// silence is the RMS below which a state counts as silent, 180 dB below full
// scale: less than the last bit of 24, more than rounding leaves of a constant.
const silence = 1e-9

// view fills c with the cycle at b.
func (e *Extractor) view(c *cycle, b bounds) {
	c.at = b
	for i := range c.state {
		e.viewLevel(&c.state[i], b[i], b[i+1])
	}
	e.estimateSpectra(c)
	for i := range c.state {
		if s := &c.state[i]; s.hasSpectrum {
			e.viewSpectrum(s)
			e.viewWavelet(s)
		}
	}
	c.split = split{seconds: math.NaN(), confidence: math.NaN()}
	if s := &c.state[s2]; !s.silent && len(s.envelope) >= splitShortest {
		c.split, e.smooth = splitOf(s.envelope, e.smooth)
	}
}

// viewLevel fills in the samples of a state and how loud they are.
func (e *Extractor) viewLevel(s *state, start, end time.Duration) {
	s.from = min(pcg.ToSamples(start, Rate), len(e.y))
	s.to = min(pcg.ToSamples(end, Rate), len(e.y))
	s.y, s.envelope, s.murmur = e.y[s.from:s.to], e.envelope[s.from:s.to], e.murmur[s.from:s.to]
	s.level = level{meanAbs: math.NaN(), meanSquare: math.NaN(), peak: math.NaN()}
	if len(s.y) >= 2 {
		s.level = levelOf(s.y)
	}
	s.envelopeMean = mean(s.envelope)
	s.silent = !(s.level.rms() >= silence)
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
		of[i].Rate, of[states+i].Rate = Rate, e.raw.vRate
		if s := &c.state[i]; s.hasSpectrum {
			of[i].Samples = e.x[s.from:s.to]
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

// viewSpectrum fills in what is measured on the spectra of a state.
func (e *Extractor) viewSpectrum(s *state) {
	s.shape.Of(s.spectrum.Band(bandLow, bandHigh))
	e.mel.Transform(s.cepstrum[:], s.spectrum)
	if e.raw.decimator != nil {
		s.highShare = highShare(s.highest)
	}
}

// highShare returns the share of 400 to 800 Hz in the power at 25 to 800 Hz.
func highShare(s signal.Spectrum) float64 {
	return s.Band(bandLow, highBand).Share(bandHigh, highBand)
}
