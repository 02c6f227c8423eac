package lanes

import "math"

// Peak returns the greatest magnitude of x, zero if there is none and NaN if one is
// NaN.
func Peak(x []float64) float64 {
	return peak(x)
}

// peakPortable compares bits: without their sign they are in the order of the
// magnitudes, with NaN above infinity.
func peakPortable(x []float64) float64 {
	var greatest uint64
	for _, v := range x {
		greatest = max(greatest, math.Float64bits(v)&^(1<<63))
	}
	return math.Float64frombits(greatest)
}
