package simd

import "math"

// Magnitude writes the magnitudes of complex numbers a + j·b:
//
//	for i := range dst {
//		dst[i] = math.Sqrt(math.FMA(a[i], a[i], b[i]*b[i]))
//	}
//
// It panics if a or b is shorter than dst. dst may be a or b.
func Magnitude(dst, a, b []float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	if whole := len(dst) &^ (Width - 1); vector && whole > 0 {
		magnitudeAVX2(&dst[0], &a[0], &b[0], whole)
		dst, a, b = dst[whole:], a[whole:], b[whole:]
	}
	for i := range dst {
		dst[i] = math.Sqrt(math.FMA(a[i], a[i], float64(b[i]*b[i])))
	}
}

// magnitudeAVX2 writes n values, a multiple of four.
//
//go:noescape
func magnitudeAVX2(dst, a, b *float64, n int)
