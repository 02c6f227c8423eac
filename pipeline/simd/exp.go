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
	for len(x) > 0 {
		n := exps(dst, x)
		if n < len(x) {
			dst[n] = expOne(x[n])
			n++
		}
		dst, x = dst[n:], x[n:]
	}
}

const (
	expLimit = 708
	// wholeAndHalf added to a number leaves the nearest integer in the last bits.
	wholeAndHalf = 0x1.8p52
)

// expOne is the exponential of one number.
func expOne(x float64) float64 {
	if !(math.Abs(x) < expLimit) {
		return math.Exp(x)
	}
	shifted := math.FMA(x, math.Log2E, wholeAndHalf)
	n := shifted - wholeAndHalf
	r := math.FMA(-n, ln2Low, math.FMA(-n, ln2High, x))
	p := 1.0 / 6227020800
	p = math.FMA(p, r, 1.0/479001600)
	p = math.FMA(p, r, 1.0/39916800)
	p = math.FMA(p, r, 1.0/3628800)
	p = math.FMA(p, r, 1.0/362880)
	p = math.FMA(p, r, 1.0/40320)
	p = math.FMA(p, r, 1.0/5040)
	p = math.FMA(p, r, 1.0/720)
	p = math.FMA(p, r, 1.0/120)
	p = math.FMA(p, r, 1.0/24)
	p = math.FMA(p, r, 1.0/6)
	p = math.FMA(p, r, 1.0/2)
	y := 1 + math.FMA(float64(r*r), p, r)
	return math.Float64frombits(math.Float64bits(y) + math.Float64bits(shifted)<<52)
}

// expsPortable writes exponentials up to the first x, if any, beyond expLimit, and
// returns their number.
func expsPortable(dst, x []float64) int {
	for i, v := range x {
		if !(math.Abs(v) < expLimit) {
			return i
		}
		dst[i] = expOne(v)
	}
	return len(x)
}
