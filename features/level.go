package features

import (
	"math"

	"phonocycle/pipeline/simd"
)

// silence is the RMS below which a state counts as silent, 180 dB below full
// scale: less than the last bit of 24, more than rounding leaves of a constant.
const silence = 1e-9

// level is what is measured of the amplitudes of a state or a recording.
type level struct {
	meanAbs, meanSquare, peak float64
	moments                   moments
	crossings                 int
}

// levelOf returns the level of y, NaN of fewer samples than least.
func levelOf(y []float64, least int) level {
	if len(y) < least {
		return level{meanAbs: math.NaN(), meanSquare: math.NaN(), peak: math.NaN()}
	}
	n, o := float64(len(y)), simd.OscillationOf(y)
	if o.Least == 0 {
		o.Changes = zeroCrossings(y)
	}
	return level{
		meanAbs:    o.Sum / n,
		meanSquare: energy(y) / n,
		peak:       o.Greatest,
		moments:    momentsOf(y),
		crossings:  o.Changes,
	}
}

// zeroCrossings returns the number of changes of sign. A zero has the sign of
// what comes before it, so that inverting y changes nothing.
func zeroCrossings(y []float64) int {
	for len(y) > 0 && y[0] == 0 {
		y = y[1:]
	}
	if len(y) == 0 {
		return 0
	}
	count, last := 0, y[0]
	for _, v := range y {
		if v != 0 {
			if v < 0 != (last < 0) {
				count++
			}
			last = v
		}
	}
	return count
}

// rms returns the root mean square of the samples.
func (l *level) rms() float64 { return math.Sqrt(l.meanSquare) }

// silent reports whether no amplitude is worth a ratio.
func (l *level) silent() bool { return !(l.rms() >= silence) }
