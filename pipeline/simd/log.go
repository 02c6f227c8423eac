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
	for len(x) > 0 {
		n := logs(dst, x)
		if n < len(x) {
			dst[n] = logOne(x[n])
			n++
		}
		dst, x = dst[n:], x[n:]
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
	p := 2.0 / 21
	p = math.FMA(p, z, 2.0/19)
	p = math.FMA(p, z, 2.0/17)
	p = math.FMA(p, z, 2.0/15)
	p = math.FMA(p, z, 2.0/13)
	p = math.FMA(p, z, 2.0/11)
	p = math.FMA(p, z, 2.0/9)
	p = math.FMA(p, z, 2.0/7)
	p = math.FMA(p, z, 2.0/5)
	p = math.FMA(p, z, 2.0/3)
	r := math.FMA(-p, z, f)                   // f − 2s²/3 − …
	low := math.FMA(e, ln2Low, -float64(s*r)) // what is added to f and the exponent's part
	return float64(e*ln2High) + (f + low)
}

// logsPortable writes logarithms up to the first x, if any, that is not positive
// and normal, and returns their number.
func logsPortable(dst, x []float64) int {
	for i, v := range x {
		if math.Float64bits(v)-leastNormal >= infinity-leastNormal {
			return i
		}
		dst[i] = logOne(v)
	}
	return len(x)
}
