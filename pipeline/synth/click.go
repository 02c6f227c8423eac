package synth

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// A click is the touch of a finger on the chest piece: a half sine of 2 ms,
// upwards, several times as loud as a heart sound.
const (
	clickLength = 2 * time.Millisecond
	clickGain   = 0.6 // of full scale, before the recording's gain
)

// addClicks adds clicks at the given times and, on average, perMinute more at
// random times. It returns the time of the first sample of each in order.
func addClicks(x []float64, rate int, at []time.Duration, perMinute float64, rng *rand.Rand) []time.Duration {
	var samples []int
	for _, t := range at {
		samples = append(samples, min(firstSample(t, rate), len(x)-1))
	}
	if perMinute > 0 {
		mean := 60 / perMinute * float64(rate)
		for at := mean * rng.ExpFloat64(); at < float64(len(x)); at += mean * rng.ExpFloat64() {
			samples = append(samples, int(at))
		}
	}
	slices.Sort(samples)
	var times []time.Duration
	width := max(1, pcg.ToSamples(clickLength, rate))
	for _, first := range slices.Compact(samples) {
		for i := range min(width, len(x)-first) {
			x[first+i] += clickGain * math.Sin(math.Pi*(float64(i)+0.5)/float64(width))
		}
		times = append(times, pcg.FromSamples(int64(first), rate))
	}
	return times
}
