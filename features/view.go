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
}

// state is one of the four states of a cycle. A state shorter than two
// samples is silent.
type state struct {
	y           []float64 // band-limited to 25 to 400 Hz
	level       level     // of y; all NaN where y is empty
	silent      bool      // no amplitude worth a ratio
	density     []float64 // buffer of the spectrum
	spectrum    signal.Spectrum
	hasSpectrum bool
}

// silence is the RMS below which a state counts as silent, 180 dB below full
// scale: less than the last bit of 32, more than rounding leaves of a constant.
const silence = 1e-9

// recording is what the function of a recording feature sees.
type recording struct {
	cycles []bounds
}

// view fills c with the cycle at b.
func (e *Extractor) view(c *cycle, b bounds) {
	c.at = b
	for i := range c.state {
		e.viewState(&c.state[i], b[i], b[i+1])
	}
}

func (e *Extractor) viewState(s *state, start, end time.Duration) {
	from := min(pcg.ToSamples(start, Rate), len(e.y))
	to := min(pcg.ToSamples(end, Rate), len(e.y))
	s.y = e.y[from:to]
	s.level = level{meanAbs: math.NaN(), meanSquare: math.NaN(), peak: math.NaN()}
	if len(s.y) >= 2 {
		s.level = levelOf(s.y)
	}
	s.silent = !(s.level.rms() >= silence)
	s.hasSpectrum = !s.silent && len(s.y) >= spectrumLeast
	if s.hasSpectrum {
		full := e.periodogram.Estimate(signal.Spectrum{Density: s.density}, e.x[from:to], Rate)
		s.density = full.Density
		s.spectrum = full.Band(bandLow, bandHigh)
	}
}
