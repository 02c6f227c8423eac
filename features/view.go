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
}

// state is one of the four states of a cycle.
type state struct {
	y        []float64 // band-limited to 25 to 400 Hz
	envelope []float64 // Hilbert envelope of y
	murmur   []float64 // band-limited to 150 to 400 Hz
	level    level     // of y; NaN where y has fewer than two samples
	silent   bool      // no amplitude worth a ratio

	// The rest is only valid where hasSpectrum is set.
	hasSpectrum bool
	spectrum    signal.Spectrum // of x, 25 to 400 Hz
	highShare   float64         // of 400 to 800 Hz in the raw signal; NaN where it has none
	cepstrum    [cepstralCoefficients]float64
	details     [len(waveletBands)][]float64

	density []float64 // buffer of the spectrum
	logs    signal.Logs
}

// silence is the RMS below which a state counts as silent, 180 dB below full
// scale: less than the last bit of 24, more than rounding leaves of a constant.
const silence = 1e-9

// view fills c with the cycle at b.
func (e *Extractor) view(c *cycle, b bounds) {
	c.at = b
	for i := range c.state {
		e.viewState(&c.state[i], b[i], b[i+1])
	}
	c.split = split{seconds: math.NaN(), confidence: math.NaN()}
	if s := &c.state[s2]; !s.silent && len(s.envelope) >= splitShortest {
		c.split, e.smooth = splitOf(s.envelope, e.smooth)
	}
}

func (e *Extractor) viewState(s *state, start, end time.Duration) {
	from := min(pcg.ToSamples(start, Rate), len(e.y))
	to := min(pcg.ToSamples(end, Rate), len(e.y))
	s.y, s.envelope, s.murmur = e.y[from:to], e.envelope[from:to], e.murmur[from:to]
	s.level = level{meanAbs: math.NaN(), meanSquare: math.NaN(), peak: math.NaN()}
	if len(s.y) >= 2 {
		s.level = levelOf(s.y)
	}
	s.silent = !(s.level.rms() >= silence)
	s.hasSpectrum = !s.silent && len(s.y) >= spectrumLeast
	s.highShare = math.NaN()
	if !s.hasSpectrum {
		return
	}
	full := e.periodogram.Estimate(signal.Spectrum{Density: s.density}, e.x[from:to], Rate)
	s.density = full.Density
	s.spectrum = full.Band(bandLow, bandHigh).WithLogs(&s.logs)
	e.mel.Transform(s.cepstrum[:], full)
	for k := range s.details {
		s.details[k] = e.details[waveletBands[k].level-1][from:to]
	}
	if e.raw.decimator != nil {
		e.raw.spectrum = e.raw.periodogram.Estimate(e.raw.spectrum, e.raw.between(start, end), e.raw.vRate)
		s.highShare = highShare(e.raw.spectrum)
	}
}

// highShare returns the share of 400 to 800 Hz in the power at 25 to 800 Hz.
func highShare(s signal.Spectrum) float64 {
	return s.Band(bandLow, highBand).Share(bandHigh, highBand)
}
