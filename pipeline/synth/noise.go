package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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

// lowest is the frequency in hertz below which pink and brown noise end: no
// microphone of a stethoscope follows further down.
const lowest = 10

func (c Colour) gain(f float64) float64 {
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

func (c Colour) check() error {
	if !slices.Contains(Colours(), c) {
		return fmt.Errorf("unknown colour of noise %q: want one of %v", c, Colours())
	}
	return nil
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
