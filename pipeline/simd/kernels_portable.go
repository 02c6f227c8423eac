//go:build !amd64 || purego

package simd

func dot(a, b []float64) float64 { return dotPortable(a, b) }

func sum(x []float64) float64 { return sumPortable(x) }

func interleave(dst []float64, rows *[Width][]float64) { interleavePortable(dst, rows, 0) }

func cascade(x []float64, sections *[2]Section, states *[2]State, backwards bool) {
	cascadePortable(x, sections, states, backwards)
}

func correlate(dst, x, taps []float64, spacing int) { correlatePortable(dst, x, taps, spacing) }

func decimate(dst, x, taps []float64, step int) { decimatePortable(dst, x, taps, step) }

func halfBand(dst, even, odd, sides []float64, middle float64) {
	halfBandPortable(dst, even, odd, sides, middle)
}

func logs(dst, x []float64) int { return logsPortable(dst, x) }

func exps(dst, x []float64) int { return expsPortable(dst, x) }

func radix4(dst, src Block, twiddles []float64, m, stride, apart, skip int) {
	radix4Portable(dst, src, twiddles, m, stride, apart, skip)
}

func radix4Half(dst, src Block, twiddles []float64, m, apart int) {
	radix4HalfPortable(dst, src, twiddles, m, apart)
}

func radix4Last(dst, src Block, stride int) { radix4LastPortable(dst, src, stride) }

func realPowers(dst *[2 * Width][]float64, z spectrum, scale *[2 * Width]float64) {
	realPowersPortable(dst, &z, scale, 0, len(dst[0]))
}

func hilbert(h *Hilbert, y Block) { hilbertPortable(h, y, 1) }

func compareExchange(x []float64, first, block, distance int) {
	compareExchangePortable(x, first, block, distance)
}

func minMax(lows, highs *[parts]float64, x []float64) { minMaxPortable(lows, highs, x) }
