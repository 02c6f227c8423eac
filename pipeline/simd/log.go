package simd

import "math"

// Log writes natural logarithms:
//
//	for i, v := range x {
//		dst[i] = math.Log(v)
//	}
//
// with an error of less than one unit in the last place. For zeros, infinities,
// negative and subnormal numbers and NaN it calls math.Log. It panics if dst is
// shorter than x. dst may be x.
//
// With x = 2^e·(1 + f), √½ ≤ 1 + f < √2, and s = f/(2 + f),
//
//	ln(1 + f) = 2 artanh s = 2s + 2s³/3 + 2s⁵/5 + …
//
// the Gregory–Mercator series. As 2s = f − s·f, the sum is f, which is
// exact, minus s·(f − 2s²/3 − 2s⁴/5 − …), which is small, so that the rounding of
// the quotient hardly matters. As s² < 0.0295, ten terms leave an error below 1e-18
// of the sum.
func Log(dst, x []float64) {
	dst = dst[:len(x)]
	for i := 0; i < len(x); i++ {
		if whole := (len(x) - i) &^ (Width - 1); vector && whole > 0 {
			if i += logAVX2(&dst[i], &x[i], whole); i == len(x) {
				return
			}
		}
		dst[i] = logOne(x[i])
	}
}

// Two parts of ln 2. The product of the first and any exponent is exact.
const (
	ln2High = 0x1.62e42fefap-01
	ln2Low  = math.Ln2 - ln2High

	sqrtHalfBits = 0x3fe6a09e667f3bcd
	oneBits      = 0x3ff0000000000000
	leastNormal  = 0x0010000000000000
	infinity     = 0x7ff0000000000000
)

// artanhSeries holds the coefficients of (2 artanh s − 2s)/s³ in powers of s², from s¹⁸ down.
var artanhSeries = [...]float64{2. / 21, 2. / 19, 2. / 17, 2. / 15, 2. / 13, 2. / 11, 2. / 9, 2. / 7, 2. / 5, 2. / 3}

// logOne is the logarithm of one number.
func logOne(x float64) float64 {
	ix := math.Float64bits(x)
	if ix-leastNormal >= infinity-leastNormal {
		return math.Log(x)
	}
	shifted := ix - sqrtHalfBits + oneBits
	e := float64(int64(shifted>>52) - 1023)
	f := math.Float64frombits(ix-shifted&^(1<<52-1)+oneBits) - 1
	s := f / (2 + f)
	z := s * s
	p := 0.0
	for _, c := range &artanhSeries {
		p = math.FMA(p, z, c)
	}
	r := math.FMA(-p, z, f)                   // f − 2s²/3 − …
	low := math.FMA(e, ln2Low, -float64(s*r)) // what is added to f and the exponent's part
	return float64(e*ln2High) + (f + low)
}

// logAVX2 writes the logarithms of n values, a multiple of four. It stops at the first
// four of which one is not positive and normal, and returns how many it wrote.
//
//go:noescape
func logAVX2(dst, x *float64, n int) int
