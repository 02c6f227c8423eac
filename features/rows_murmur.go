package features

import (
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
)

// The band of murmurs: their dominant frequencies lie at 130 to 410 Hz
// (Donnerstein 1989), those of the sounds mostly below 150 Hz.
const (
	murmurLow   = 150.0 // Hz
	murmurHigh  = 400.0 // Hz
	murmurOrder = 4
	thirds      = 3
)

// murmurFeatures are the levels in the band of murmurs over the thirds of
// systole and diastole, each relative to the sound before it.
func murmurFeatures() []Feature {
	var rows []Feature
	for _, i := range []int{systole, diastole} {
		s, sound := pcg.Cycle[i], pcg.Cycle[i-1]
		for k, word := range []string{"first", "middle", "last"} {
			rows = append(rows, Feature{
				Name: fmt.Sprintf("%s%s_third_band_150_400_hz_to_%sdb", prefix(s), word, prefix(sound)), Unit: "dB", Range: "any",
				Definition: fmt.Sprintf("10 log₁₀(mean z² over the %s third of %v / mean y² in %v)", word, s, sound),
				Source:     "band after Donnerstein 1989, Am J Cardiol 64:625; the measure is ours",
				Null:       fmt.Sprintf("%v is shorter than 30 ms, %v is shorter than 2 ms, or one of them silent (RMS of y below 1e-9 FS)", s, sound),
				Statistics: Four,
				ofCycle: func(c *cycle) float64 {
					return murmurLevel(&c.state[i], &c.state[i-1], k)
				},
			})
		}
	}
	return rows
}

// murmurLevel returns the level of the k-th third of a state in the band of
// murmurs over that of the sound before it.
func murmurLevel(s, sound *state, k int) float64 {
	if s.silent || sound.silent || len(s.murmur) < 30 {
		return math.NaN()
	}
	z := part(s.murmur, k, thirds)
	return decibels(energy(z) / float64(len(z)) / sound.level.meanSquare)
}
