//go:build !purego

package simd

import "golang.org/x/sys/cpu"

// vector reports whether the processor can run the assembly. The tests set it to
// false to compare.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

func dot(a, b []float64) float64 {
	if vector && len(a) > 0 {
		return dotAVX2(&a[0], &b[0], len(a))
	}
	return dotPortable(a, b)
}

func sum(x []float64) float64 {
	if vector && len(x) > 0 {
		return sumAVX2(&x[0], len(x))
	}
	return sumPortable(x)
}

func interleave(dst []float64, rows *[Width][]float64) {
	whole := len(rows[0]) &^ (Width - 1)
	if !vector {
		whole = 0
	}
	if whole > 0 {
		interleaveAVX2(&dst[0], &rows[0][0], &rows[1][0], &rows[2][0], &rows[3][0], whole)
	}
	interleavePortable(dst, rows, whole)
}

func cascade(x []float64, sections *[2]Section, states *[2]State, backwards bool) {
	n := len(x) / Width
	if !vector || n == 0 {
		cascadePortable(x, sections, states, backwards)
		return
	}
	at, step := 0, 8*Width
	if backwards {
		at, step = Width*(n-1), -step
	}
	cascadeAVX2(&x[at], n, step, sections, states)
}

func correlate(dst, x, taps []float64, spacing int) {
	if whole := len(dst) &^ (Width - 1); vector && whole > 0 {
		correlateAVX2(&dst[0], &x[0], &taps[0], whole, len(taps), spacing)
		dst, x = dst[whole:], x[whole:]
	}
	correlatePortable(dst, x, taps, spacing)
}

func decimate(dst, x, taps []float64, step int) {
	if whole := len(dst) &^ 7; vector && whole > 0 && len(taps) > 0 {
		decimateAVX2(&dst[0], &x[0], &taps[0], whole, len(taps), step)
		if dst = dst[whole:]; len(dst) > 0 {
			x = x[whole*step:]
		}
	}
	decimatePortable(dst, x, taps, step)
}

func halfBand(dst, even, odd, sides []float64, middle float64) {
	if whole := len(dst) &^ (Width - 1); vector && whole > 0 {
		halfBandAVX2(&dst[0], &even[0], &odd[0], &sides[0], middle, whole, len(sides))
		dst, even, odd = dst[whole:], even[whole:], odd[whole:]
	}
	halfBandPortable(dst, even, odd, sides, middle)
}

func logs(dst, x []float64) int {
	if whole := len(x) &^ (Width - 1); vector && whole > 0 {
		if n := logAVX2(&dst[0], &x[0], whole); n > 0 {
			return n
		}
	}
	return logsPortable(dst, x)
}

func exps(dst, x []float64) int {
	if whole := len(x) &^ (Width - 1); vector && whole > 0 {
		if n := expAVX2(&dst[0], &x[0], whole); n > 0 {
			return n
		}
	}
	return expsPortable(dst, x)
}

func radix4(dst, src Block, twiddles []float64, m, stride, apart, skip int) {
	if vector {
		radix4AVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], &twiddles[0], m, stride, apart, skip)
		return
	}
	radix4Portable(dst, src, twiddles, m, stride, apart, skip)
}

func radix4Half(dst, src Block, twiddles []float64, m, apart int) {
	if vector {
		radix4HalfAVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], &twiddles[0], m, apart)
		return
	}
	radix4HalfPortable(dst, src, twiddles, m, apart)
}

func radix4Last(dst, src Block, stride int) {
	if vector {
		radix4LastAVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], stride)
		return
	}
	radix4LastPortable(dst, src, stride)
}

func realPowers(dst *[2 * Width][]float64, z spectrum, scale *[2 * Width]float64) {
	n := 2 * (len(dst[0]) - 1)
	groups := n/8 - 1 // of the bins from 4 to n/2 − 1
	if !vector || groups <= 0 || n%8 != 0 {
		realPowersPortable(dst, &z, scale, 0, n/2+1)
		return
	}
	var to [2 * Width]*float64
	for s := range to {
		to[s] = &dst[s][4]
	}
	realPowersAVX2(&to, &z.Re[0], &z.Im[0], scale, n, groups, z.apart, z.step)
	realPowersPortable(dst, &z, scale, 0, 4)
	realPowersPortable(dst, &z, scale, n/2, n/2+1)
}

func hilbert(h *Hilbert, y Block) {
	parts := h.n / 8
	groups := (parts - 1) / 2 / Width
	if !vector || groups == 0 {
		hilbertPortable(h, y, 1)
		return
	}
	var scratch [64]float64
	hilbertAVX2(&y.Re[0], &y.Im[0], &h.twiddles[0], &scratch, parts, groups)
	hilbertPortable(h, y, 1+Width*groups)
}

func compareExchange(x []float64, first, block, distance int) {
	if vector {
		compareExchangeAVX2(&x[0], len(x)/Width-distance, first, block, distance)
		return
	}
	compareExchangePortable(x, first, block, distance)
}

func minMax(lows, highs *[parts]float64, x []float64) {
	if vector && len(x) > 0 {
		minMaxAVX2(lows, highs, &x[0], len(x))
		return
	}
	minMaxPortable(lows, highs, x)
}

// The assembly. A pointer stands for as many values as the function above passes.

//go:noescape
func dotAVX2(a, b *float64, n int) float64

//go:noescape
func sumAVX2(x *float64, n int) float64

// interleaveAVX2 takes n values of each row, a multiple of four.
//
//go:noescape
func interleaveAVX2(dst, a, b, c, d *float64, n int)

// cascadeAVX2 filters n elements of four sequences, step bytes from one to the next.
//
//go:noescape
func cascadeAVX2(x *float64, n, step int, sections *[2]Section, states *[2]State)

// correlateAVX2 writes n values, a multiple of four.
//
//go:noescape
func correlateAVX2(dst, x, taps *float64, n, k, spacing int)

// decimateAVX2 writes n values, a multiple of eight, from k taps, a multiple of
// four.
//
//go:noescape
func decimateAVX2(dst, x, taps *float64, n, k, step int)

// halfBandAVX2 writes n values, a multiple of four, of k weights each.
//
//go:noescape
func halfBandAVX2(dst, even, odd, sides *float64, middle float64, n, k int)

// logAVX2 writes the logarithms of n values, a multiple of four. It stops at the first
// four of which one is not positive and normal, and returns how many it wrote.
//
//go:noescape
func logAVX2(dst, x *float64, n int) int

// expAVX2 does for exponentials what logAVX2 does for logarithms. It stops at the first
// four of which one is beyond expLimit.
//
//go:noescape
func expAVX2(dst, x *float64, n int) int

//go:noescape
func radix4AVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, stride, apart, skip int)

//go:noescape
func radix4HalfAVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, apart int)

//go:noescape
func radix4LastAVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)

// realPowersAVX2 writes as many groups of four bins of each sequence, from bin 4 on,
// of a spectrum with apart and step.
//
//go:noescape
func realPowersAVX2(dst *[8]*float64, re, im *float64, scale *[8]float64, n, groups, apart, step int)

// hilbertAVX2 does as many groups of four k, from 1 on, each with K − k, for K parts.
//
//go:noescape
func hilbertAVX2(re, im, twiddles *float64, scratch *[64]float64, parts, groups int)

// compareExchangeAVX2 puts the elements i, below end, and i + distance in order.
//
//go:noescape
func compareExchangeAVX2(x *float64, end, first, block, distance int)

//go:noescape
func minMaxAVX2(lows, highs *[parts]float64, x *float64, n int)
