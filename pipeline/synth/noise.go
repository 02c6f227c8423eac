package synth

import (
	"math"
	"math/rand/v2"

	"phonocycle/pipeline/synth/noise"
)

// Colour is the slope of the noise that surrounds a recording, see package noise.
type Colour = noise.Colour

// Pink is the usual colour of a room.
const Pink = noise.Pink

// Colours lists the colours.
func Colours() []Colour { return noise.Colours() }

// addNoise adds noise to x at a signal-to-noise ratio in decibels:
//
//	SNR = 10 log10( Σ signal² / Σ noise² )
//
// over the whole recording, with everything in x before the call as the signal.
// The realisation is scaled, not its expectation, so the ratio holds exactly.
func addNoise(x []float64, rate int, colour Colour, snr float64, rng *rand.Rand) {
	added := new(noise.Generator).Shaped(len(x), rate, rng, colour.Gain)
	rms := math.Sqrt(noise.Power(x) * math.Pow(10, -snr/10))
	for i, v := range added {
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
	return new(noise.Generator).Shaped(n, rate, rng, func(f float64) float64 {
		if f < low || f > high {
			return 0
		}
		return smooth((f-low)/width) * smooth((high-f)/width)
	})
}
