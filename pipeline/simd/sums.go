package simd

import "math"

// Dot returns Σ a[i]·b[i]. It is kept in sixteen sums, of the terms with the same
// i mod 16, which are added in the end. It panics if b is shorter than a.
func Dot(a, b []float64) float64 {
	return dot(a, b[:len(a)])
}

func dotPortable(a, b []float64) float64 {
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
	for i := range 4 {
		s[i] = (s[i] + s[i+4]) + (s[i+8] + s[i+12])
	}
	return (s[0] + s[1]) + (s[2] + s[3])
}

// Sum returns Σ x[i], kept in sixteen sums as that of Dot is.
func Sum(x []float64) float64 { return sum(x) }

func sumPortable(x []float64) float64 {
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
	for i := range 4 {
		s[i] = (s[i] + s[i+4]) + (s[i+8] + s[i+12])
	}
	return (s[0] + s[1]) + (s[2] + s[3])
}

// Correlate writes to dst[i] the sum over k, from 0 upwards, of
//
//	taps[k]·x[i + k·spacing]
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
	correlate(dst, x, taps, spacing)
}

func correlatePortable(dst, x, taps []float64, spacing int) {
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

// Padded returns taps with zeros behind them to a multiple of four, as Decimate
// takes them.
func Padded(taps []float64) []float64 {
	padded := make([]float64, (len(taps)+Width-1)/Width*Width)
	copy(padded, taps)
	return padded
}

// Decimate writes to dst[i] the sum over k of
//
//	taps[k]·x[i·step + k]
//
// kept in four sums, of the terms with the same k mod 4. It panics unless the
// number of taps is a multiple of four, x holds all samples that this needs and
// step is positive. dst must not overlap x.
func Decimate(dst, x, taps []float64, step int) {
	if len(dst) == 0 {
		return
	}
	if step < 1 || len(taps)%Width != 0 || (len(dst)-1)*step+len(taps) > len(x) {
		panic("simd: a decimation reaches beyond its signal")
	}
	decimate(dst, x, taps, step)
}

func decimatePortable(dst, x, taps []float64, step int) {
	for i := range dst {
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
