package synth

import (
	"math"
	"math/rand/v2"
	"time"

	"phonocycle/pipeline/pcg"
)

// A click is the touch of a finger on the chest piece: a half sine of 2 ms,
// upwards, several times as loud as a heart sound.
const (
	clickLength = 2 * time.Millisecond
	clickGain   = 0.6 // of full scale, before the recording's gain
)

// addClicks adds clicks at random times, perMinute on average. It returns the
// time of the first sample of each in order.
func addClicks(x []float64, rate int, perMinute float64, rng *rand.Rand) []time.Duration {
	var times []time.Duration
	mean := 60 / perMinute * float64(rate)
	width := max(1, pcg.ToSamples(clickLength, rate))
	for at := mean * rng.ExpFloat64(); at < float64(len(x)); at += mean * rng.ExpFloat64() {
		first := int(at)
		for i := range min(width, len(x)-first) {
			x[first+i] += clickGain * math.Sin(math.Pi*(float64(i)+0.5)/float64(width))
		}
		times = append(times, pcg.FromSamples(int64(first), rate))
	}
	return times
}
