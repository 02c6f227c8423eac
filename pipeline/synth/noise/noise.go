// Package noise makes Gaussian noise of a given spectrum.
//
// White noise, independent numbers of a standard normal distribution, is transformed,
// multiplied by the wanted amplitude at each frequency, and transformed back, so that
// the expected spectrum is the wanted one exactly.
package noise

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Colour is the slope of a spectrum of noise.
type Colour string

// The colours of noise.
const (
	White Colour = "white" // equal power in each hertz
	Pink  Colour = "pink"  // equal power in each octave above 10 Hz: −3 dB an octave, −10 dB a decade
	Brown Colour = "brown" // −6 dB an octave above 10 Hz: the rumble of a room
)

// Colours lists the colours.
func Colours() []Colour { return []Colour{White, Pink, Brown} }

// lowest is the frequency in hertz below which there is no pink and brown noise:
// microphones of stethoscopes do not record it.
const lowest = 10

// Gain returns the amplitude at f hertz, that of white noise being 1.
func (c Colour) Gain(f float64) float64 {
	switch {
	case c == White:
		return 1
	case f < lowest:
		return 0
	case c == Pink:
		return math.Sqrt(lowest / f)
	default:
		return lowest / f
	}
}

// Generator makes noise of one length after another. It holds the transform and
// buffers, and serves one goroutine. Its zero value is ready.
type Generator struct {
	plan     *fourier.FFT
	x        []float64
	spectrum []complex128
}

// Shaped returns n samples of Gaussian noise at rate hertz whose amplitude spectrum is
// that of white noise times gain(f), f in hertz, scaled to a mean square of 1. They are
// valid until the next call. The noise is made on a power of two of samples, which keeps
// the transform fast whatever n is.
func (g *Generator) Shaped(n, rate int, rng *rand.Rand, gain func(f float64) float64) []float64 {
	size := 2
	for size < n {
		size *= 2
	}
	if len(g.spectrum) != size/2+1 {
		g.plan, g.spectrum = fourier.NewFFT(size), make([]complex128, size/2+1)
	}
	g.White(size, rng)
	g.plan.Coefficients(g.spectrum, g.x)
	for k := range g.spectrum {
		g.spectrum[k] *= complex(gain(g.plan.Freq(k)*float64(rate)), 0)
	}
	x := g.plan.Sequence(g.x, g.spectrum)[:n]
	scale := 1 / math.Sqrt(Power(x))
	for i := range x {
		x[i] *= scale
	}
	return x
}

// White returns n samples of white Gaussian noise with a variance of 1, valid until the
// next call.
func (g *Generator) White(n int, rng *rand.Rand) []float64 {
	if cap(g.x) < n {
		g.x = make([]float64, n)
	}
	g.x = g.x[:n]
	for i := range g.x {
		g.x[i] = rng.NormFloat64()
	}
	return g.x
}

// Power returns the mean square of x.
func Power(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(len(x))
}
