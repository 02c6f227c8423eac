package simd

import "math"

// parts is the number of partial results that MinMax and Moments keep: that of the elements with the same i mod parts.
const parts = 2 * Width

// MinMax returns the smallest and the largest value of x:
//
//	low, high := x[0], x[0]
//	for _, v := range x {
//		if v < low {
//			low = v
//		}
//		if v > high {
//			high = v
//		}
//	}
//
// Both are NaN if x is empty or x[0] is NaN; NaN elsewhere is skipped. Eight parts
// of x are compared separately, so that of zeros of both signs either can result.
func MinMax(x []float64) (low, high float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	var lows, highs [parts]float64
	for k := range parts {
		lows[k], highs[k] = x[0], x[0]
	}
	whole := len(x) &^ (parts - 1)
	if vector && whole > 0 {
		minMaxAVX2(&lows, &highs, &x[0], whole)
		x = x[whole:]
	}
	for i, v := range x {
		k := i % parts
		if v < lows[k] {
			lows[k] = v
		}
		if v > highs[k] {
			highs[k] = v
		}
	}
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

// minMaxAVX2 compares n values, a multiple of eight.
//
//go:noescape
func minMaxAVX2(lows, highs *[parts]float64, x *float64, n int)

// MaxAbs returns the largest magnitude in x, 0 if x is empty and NaN if one element
// is NaN:
//
//	for _, v := range x {
//		peak = max(peak, math.Abs(v))
//	}
func MaxAbs(x []float64) float64 {
	var most uint64
	for _, v := range x {
		most = max(most, magnitude(v))
	}
	return math.Float64frombits(most)
}

// MaxAbsInterleaved returns what MaxAbs does for each of four interleaved sequences. It panics if
// their lengths differ.
func MaxAbsInterleaved(x []float64) (peak [Width]float64) {
	if len(x)%Width != 0 {
		panic("simd: sequences of different lengths")
	}
	var p0, p1, p2, p3 uint64
	for len(x) >= Width {
		p0, p1 = max(p0, magnitude(x[0])), max(p1, magnitude(x[1]))
		p2, p3 = max(p2, magnitude(x[2])), max(p3, magnitude(x[3]))
		x = x[Width:]
	}
	for l, p := range [Width]uint64{p0, p1, p2, p3} {
		peak[l] = math.Float64frombits(p)
	}
	return peak
}

// magnitude returns the bits of |x|. As whole numbers they are in the order of the
// magnitudes, with NaN above infinity.
func magnitude(x float64) uint64 { return math.Float64bits(x) &^ (1 << 63) }
