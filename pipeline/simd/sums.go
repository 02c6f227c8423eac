package simd

import "math"

// Dot returns Σ a[i]·b[i], the total of sixteen partial sums:
//
//	for i, v := range a {
//		s[i%16] = math.FMA(v, b[i], s[i%16])
//	}
//	for i := range 4 {
//		s[i] = (s[i] + s[i+4]) + (s[i+8] + s[i+12])
//	}
//	return (s[0] + s[1]) + (s[2] + s[3])
//
// It panics if b is shorter than a.
func Dot(a, b []float64) float64 {
	b = b[:len(a)]
	if vector && len(a) > 0 {
		return dotAVX2(&a[0], &b[0], len(a))
	}
	var s [16]float64
	for len(a) >= 16 && len(b) >= 16 {
		for i := range s {
			s[i] = math.FMA(a[i], b[i], s[i])
		}
		a, b = a[16:], b[16:]
	}
	for i, v := range a {
		s[i] = math.FMA(v, b[i], s[i])
	}
	return total16(&s)
}

//go:noescape
func dotAVX2(a, b *float64, n int) float64

// Sum returns Σ x[i], the total of sixteen partial sums:
//
//	for i, v := range x {
//		s[i%16] += v
//	}
//
// which are added as Dot adds its own.
func Sum(x []float64) float64 {
	if vector && len(x) > 0 {
		return sumAVX2(&x[0], len(x))
	}
	var s [16]float64
	for len(x) >= 16 {
		for i := range s {
			s[i] += x[i]
		}
		x = x[16:]
	}
	for i, v := range x {
		s[i] += v
	}
	return total16(&s)
}

//go:noescape
func sumAVX2(x *float64, n int) float64

func total16(s *[16]float64) float64 {
	for i := range 4 {
		s[i] = (s[i] + s[i+4]) + (s[i+8] + s[i+12])
	}
	return (s[0] + s[1]) + (s[2] + s[3])
}

// Moments returns Σ d², Σ d³ and Σ d⁴ of the differences d = x[i] − centre. Each is
// the total of eight partial sums, of the terms with the same i mod 8.
func Moments(x []float64, centre float64) (second, third, fourth float64) {
	var sums [3][parts]float64
	if whole := len(x) &^ (parts - 1); vector && whole > 0 {
		momentsAVX2(&sums, &x[0], whole, centre)
		x = x[whole:]
	}
	for i, v := range x {
		k := i % parts
		d := v - centre
		square := d * d
		sums[0][k] = math.FMA(d, d, sums[0][k])
		sums[1][k] = math.FMA(square, d, sums[1][k])
		sums[2][k] = math.FMA(square, square, sums[2][k])
	}
	return total(&sums[0]), total(&sums[1]), total(&sums[2])
}

// momentsAVX2 takes n values, a multiple of eight.
//
//go:noescape
func momentsAVX2(sums *[3][parts]float64, x *float64, n int, centre float64)

func total(sums *[parts]float64) float64 {
	return ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

// SubMul subtracts offset and multiplies:
//
//	for i, v := range x {
//		dst[i] = weights[i] * (v - offset)
//	}
//
// It panics if dst or weights is shorter than x. dst may be x or weights.
func SubMul(dst, x, weights []float64, offset float64) {
	dst, weights = dst[:len(x)], weights[:len(x)]
	if whole := len(x) &^ (Width - 1); vector && whole > 0 {
		subMulAVX2(&dst[0], &x[0], &weights[0], offset, whole)
		dst, x, weights = dst[whole:], x[whole:], weights[whole:]
	}
	for i, v := range x {
		dst[i] = weights[i] * (v - offset)
	}
}

// subMulAVX2 writes n values, a multiple of four.
//
//go:noescape
func subMulAVX2(dst, x, weights *float64, offset float64, n int)

// Correlate filters x with taps at a spacing:
//
//	for i := range dst {
//		sum := 0.0
//		for k, h := range taps {
//			sum = math.FMA(h, x[i+k*spacing], sum)
//		}
//		dst[i] = sum
//	}
//
// It panics unless x holds all samples that this needs and spacing is positive.
// dst must not overlap x.
func Correlate(dst, x, taps []float64, spacing int) {
	if len(dst) == 0 {
		return
	}
	if spacing < 1 || len(taps) == 0 || len(dst)+(len(taps)-1)*spacing > len(x) {
		panic("simd: a correlation reaches beyond its signal")
	}
	if whole := len(dst) &^ (Width - 1); vector && whole > 0 {
		correlateAVX2(&dst[0], &x[0], &taps[0], whole, len(taps), spacing)
		dst, x = dst[whole:], x[whole:]
	}
	for i := range dst {
		sum := 0.0
		at := i
		for _, h := range taps {
			sum = math.FMA(h, x[at], sum)
			at += spacing
		}
		dst[i] = sum
	}
}

// correlateAVX2 writes n values, a multiple of four, from k taps.
//
//go:noescape
func correlateAVX2(dst, x, taps *float64, n, k, spacing int)

// PadTaps returns taps with zeros behind them to a multiple of four, as Decimate
// takes them.
func PadTaps(taps []float64) []float64 {
	padded := make([]float64, (len(taps)+Width-1)/Width*Width)
	copy(padded, taps)
	return padded
}

// Decimate filters x with taps and keeps every step-th value:
//
//	for i := range dst {
//		var s [4]float64
//		for k, h := range taps {
//			s[k%4] = math.FMA(h, x[i*step+k], s[k%4])
//		}
//		dst[i] = (s[0] + s[1]) + (s[2] + s[3])
//	}
//
// It panics unless the number of taps is a multiple of four, x holds all samples
// that this needs and step is positive. dst must not overlap x.
func Decimate(dst, x, taps []float64, step int) {
	if len(dst) == 0 {
		return
	}
	if step < 1 || len(taps)%Width != 0 || (len(dst)-1)*step+len(taps) > len(x) {
		panic("simd: a decimation reaches beyond its signal")
	}
	done := 0
	if whole := len(dst) &^ 7; vector && whole > 0 && len(taps) > 0 {
		decimateAVX2(&dst[0], &x[0], &taps[0], whole, len(taps), step)
		done = whole
	}
	for i := done; i < len(dst); i++ {
		a, b := taps, x[i*step:]
		var s0, s1, s2, s3 float64
		for len(a) >= 4 && len(b) >= 4 {
			s0 = math.FMA(a[0], b[0], s0)
			s1 = math.FMA(a[1], b[1], s1)
			s2 = math.FMA(a[2], b[2], s2)
			s3 = math.FMA(a[3], b[3], s3)
			a, b = a[4:], b[4:]
		}
		dst[i] = (s0 + s1) + (s2 + s3)
	}
}

// decimateAVX2 writes n values, a multiple of eight, from k taps, a multiple of
// four.
//
//go:noescape
func decimateAVX2(dst, x, taps *float64, n, k, step int)
