package lanes

import "golang.org/x/sys/cpu"

// vector says whether the processor can run the assembly. The tests turn it off
// to compare.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

func dot(a, b []float64) float64 {
	if vector && len(a) > 0 {
		return dotAVX2(&a[0], &b[0], len(a))
	}
	return dotPortable(a, b)
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

func logs(dst, x []float64) int {
	if whole := len(x) &^ (Width - 1); vector && whole > 0 {
		if n := logAVX2(&dst[0], &x[0], whole); n > 0 {
			return n
		}
	}
	return logsPortable(dst, x)
}

func radix4(dst, src Block, turns []float64, m, stride int) {
	if vector {
		radix4AVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], &turns[0], m, stride)
		return
	}
	radix4Portable(dst, src, turns, m, stride)
}

func radix2(dst, src Block, turns []float64, m, stride int) {
	if vector {
		radix2AVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], &turns[0], m, stride)
		return
	}
	radix2Portable(dst, src, turns, m, stride)
}

func radix3(dst, src Block, stride int) {
	if vector {
		radix3AVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], stride)
		return
	}
	radix3Portable(dst, src, stride)
}

// The assembly. Pointers stand for as many values as the functions above say.

//go:noescape
func dotAVX2(a, b *float64, n int) float64

// correlateAVX2 writes n values, a multiple of four.
//
//go:noescape
func correlateAVX2(dst, x, taps *float64, n, k, spacing int)

// decimateAVX2 writes n values, a multiple of eight, from k taps, a multiple of
// four.
//
//go:noescape
func decimateAVX2(dst, x, taps *float64, n, k, step int)

// logAVX2 writes logarithms four at a time, of n values, a multiple of four, up to
// the first four of which one is not positive and normal, and returns their number.
//
//go:noescape
func logAVX2(dst, x *float64, n int) int

//go:noescape
func radix4AVX2(dstRe, dstIm, srcRe, srcIm, turns *float64, m, stride int)

//go:noescape
func radix2AVX2(dstRe, dstIm, srcRe, srcIm, turns *float64, m, stride int)

//go:noescape
func radix3AVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)
