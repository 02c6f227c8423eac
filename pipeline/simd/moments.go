package simd

import "math"

// parts is the number of parts in which the functions below keep what they sum or
// compare: that of the terms with the same i mod parts.
const parts = 2 * Width

// Moments returns Σ d², Σ d³ and Σ d⁴ of the differences d = x[i] − centre, each
// kept in eight sums, of the terms with the same i mod 8, which are added in the
// end.
func Moments(x []float64, centre float64) (second, third, fourth float64) {
	var sums [3][parts]float64
	whole := len(x) &^ (parts - 1)
	addMoments(&sums, x[:whole], centre)
	addMomentsPortable(&sums, x[whole:], centre)
	return total(&sums[0]), total(&sums[1]), total(&sums[2])
}

func addMomentsPortable(sums *[3][parts]float64, x []float64, centre float64) {
	for i, v := range x {
		k := i % parts
		d := v - centre
		square := d * d
		sums[0][k] = math.FMA(d, d, sums[0][k])
		sums[1][k] = math.FMA(square, d, sums[1][k])
		sums[2][k] = math.FMA(square, square, sums[2][k])
	}
}

func total(sums *[parts]float64) float64 {
	return ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

// Limits returns the least and the greatest of x, NaN of nothing. Beyond x[0], NaN
// is left out.
func Limits(x []float64) (low, high float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	var lows, highs [parts]float64
	for k := range parts {
		lows[k], highs[k] = x[0], x[0]
	}
	whole := len(x) &^ (parts - 1)
	takeLimits(&lows, &highs, x[:whole])
	takeLimitsPortable(&lows, &highs, x[whole:])
	low, high = lows[0], highs[0]
	for k := range parts {
		if lows[k] < low {
			low = lows[k]
		}
		if highs[k] > high {
			high = highs[k]
		}
	}
	return low, high
}

func takeLimitsPortable(lows, highs *[parts]float64, x []float64) {
	for i, v := range x {
		k := i % parts
		if v < lows[k] {
			lows[k] = v
		}
		if v > highs[k] {
			highs[k] = v
		}
	}
}
