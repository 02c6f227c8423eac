package synth

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Colour is the slope of the noise that surrounds a recording.
type Colour string

// The colours of noise.
const (
	White Colour = "white" // equal power in each hertz
	Pink  Colour = "pink"  // equal power in each octave above 10 Hz: −3 dB an octave
	Brown Colour = "brown" // −6 dB an octave above 10 Hz: the rumble of a room
)

// Colours lists the colours.
func Colours() []Colour { return []Colour{White, Pink, Brown} }

// lowestNoise is the frequency in hertz below which there is no pink and brown
// noise: microphones of stethoscopes do not record it.
const lowestNoise = 10

func (c Colour) gain(f float64) float64 {
	switch {
	case c == White:
		return 1
	case f < lowestNoise:
		return 0
	case c == Pink:
		return math.Sqrt(lowestNoise / f)
	default:
		return lowestNoise / f
	}
}

// addNoise adds noise to x at a signal-to-noise ratio in decibels:
//
//	SNR = 10 log10( Σ signal² / Σ noise² )
//
// over the whole recording, with everything in x before the call as the signal.
// The realisation is scaled, not its expectation, so the ratio holds exactly.
func addNoise(x []float64, rate int, colour Colour, snr float64, rng *rand.Rand) {
	noise := shapedNoise(len(x), rate, rng, colour.gain)
	rms := math.Sqrt(meanSquare(x) * math.Pow(10, -snr/10))
	for i, v := range noise {
		x[i] += rms * v
	}
}

// flank is the share of a murmur, or of a band, over which it rises or falls at
// an abrupt end.
const flank = 0.1

// smooth runs from 0 at 0 to 1 at 1 along half a cosine, and stays there.
func smooth(u float64) float64 {
	if u >= 1 {
		return 1
	}
	return (1 - math.Cos(math.Pi*max(u, 0))) / 2
}

// bandNoise returns n samples of Gaussian noise within [low, high] hertz whose
// root mean square is 1. The band is cut in the frequency domain, with flanks of
// half a cosine over the outer tenth of the band on each side, inside it.
func bandNoise(n, rate int, low, high float64, rng *rand.Rand) []float64 {
	width := flank * (high - low)
	return shapedNoise(n, rate, rng, func(f float64) float64 {
		if f < low || f > high {
			return 0
		}
		return smooth((f-low)/width) * smooth((high-f)/width)
	})
}

// shapedNoise returns n samples of Gaussian noise whose amplitude spectrum is
// that of white noise times gain(f), f in hertz, scaled to a root mean square of
// 1. It is made on a power of two of samples, which keeps the transform fast
// whatever n is.
func shapedNoise(n, rate int, rng *rand.Rand, gain func(f float64) float64) []float64 {
	size := 2
	for size < n {
		size *= 2
	}
	x := make([]float64, size)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	plan := fourier.NewFFT(size)
	spectrum := plan.Coefficients(nil, x)
	for k := range spectrum {
		spectrum[k] *= complex(gain(plan.Freq(k)*float64(rate)), 0)
	}
	x = plan.Sequence(x, spectrum)[:n]
	scale := 1 / math.Sqrt(meanSquare(x))
	for i := range x {
		x[i] *= scale
	}
	return x
}

func meanSquare(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(len(x))
}
