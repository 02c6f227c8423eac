package simd

import "math"

// Exp writes exponentials:
//
//	for i, v := range x {
//		dst[i] = math.Exp(v)
//	}
//
// with an error of less than one unit in the last place. Beyond ±708, where the
// result may not be a normal number, it calls math.Exp. It panics if dst is shorter
// than x. dst may be x.
//
// With n the integer nearest to x/ln 2 and r = x − n·ln 2, |r| ≤ ln 2/2,
//
//	e^x = 2^n·e^r,  e^r = 1 + (r + r²·(1/2! + r/3! + r²/4! + …)),
//
// the series up to r¹³. The terms left out are less than 5e-18 of the sum.
func Exp(dst, x []float64) {
	dst = dst[:len(x)]
	for i := 0; i < len(x); i++ {
		if whole := (len(x) - i) &^ (Width - 1); vector && whole > 0 {
			if i += expAVX2(&dst[i], &x[i], whole); i == len(x) {
				return
			}
		}
		dst[i] = expOne(x[i])
	}
}

const (
	expLimit = 708
	// wholeAndHalf added to a number leaves the nearest integer in the last bits.
	wholeAndHalf = 0x1.8p52
)

// expSeries holds 1/13! to 1/2!, the coefficients of (e^r − 1 − r)/r² from r¹¹ down.
var expSeries = [...]float64{
	1. / 6227020800, 1. / 479001600, 1. / 39916800, 1. / 3628800, 1. / 362880, 1. / 40320,
	1. / 5040, 1. / 720, 1. / 120, 1. / 24, 1. / 6, 1. / 2,
}

// expOne is the exponential of one number.
func expOne(x float64) float64 {
	if !(math.Abs(x) < expLimit) {
		return math.Exp(x)
	}
	shifted := math.FMA(x, math.Log2E, wholeAndHalf)
	n := shifted - wholeAndHalf
	r := math.FMA(-n, ln2Low, math.FMA(-n, ln2High, x))
	p := 0.0
	for _, c := range &expSeries {
		p = math.FMA(p, r, c)
	}
	y := 1 + math.FMA(float64(r*r), p, r)
	return math.Float64frombits(math.Float64bits(y) + math.Float64bits(shifted)<<52)
}

// expAVX2 writes the exponentials of n values, a multiple of four. It stops at the
// first four of which one is beyond expLimit, and returns how many it wrote.
//
//go:noescape
func expAVX2(dst, x *float64, n int) int
