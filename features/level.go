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
	n := float64(len(y))
	return level{
		meanAbs:    sumAbs(y) / n,
		meanSquare: energy(y) / n,
		peak:       simd.MaxAbs(y),
		moments:    momentsOf(y),
		crossings:  zeroCrossings(y),
	}
}

// sumAbs returns Σ |y[i]| of at least one sample, the total of eight partial sums, of
// the terms with the same i mod 8; the last term is added to the first of them.
func sumAbs(y []float64) float64 {
	last := len(y) - 1
	var s [8]float64
	for i, v := range y[:last] {
		s[i%len(s)] += math.Abs(v)
	}
	s[0] += math.Abs(y[last])
	return ((s[0] + s[4]) + (s[1] + s[5])) + ((s[2] + s[6]) + (s[3] + s[7]))
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
	changes, last := uint64(0), math.Float64bits(y[0])
	for _, v := range y {
		if v != 0 {
			changes += (math.Float64bits(v) ^ last) >> 63 // the sign bit
			last = math.Float64bits(v)
		}
	}
	return int(changes)
}

// rms returns the root mean square of the samples.
func (l *level) rms() float64 { return math.Sqrt(l.meanSquare) }

// silent reports whether no amplitude is worth a ratio.
func (l *level) silent() bool { return !(l.rms() >= silence) }
