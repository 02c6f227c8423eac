//go:build !amd64

package simd

func dot(a, b []float64) float64 { return dotPortable(a, b) }

func sum(x []float64) float64 { return sumPortable(x) }

func weigh(dst, x, weights []float64, offset float64) { weighPortable(dst, x, weights, offset) }

func interleave(dst []float64, rows *[Width][]float64) { interleavePortable(dst, rows, 0) }

func separate(rows *[Width][]float64, src []float64) { separatePortable(rows, src, 0) }

func int16s(dst []float64, src []byte, scale float64) { int16sPortable(dst, src, scale) }

func unzip(even, odd, x []float64) { unzipPortable(even, odd, x) }

func zip(x, even, odd []float64) { zipPortable(x, even, odd) }

func magnitudes(dst, a, b []float64) { magnitudesPortable(dst, a, b) }

func cascade(x []float64, sections *[2]Section, states *[2]State, backwards bool) {
	cascadePortable(x, sections, states, backwards)
}

func correlate(dst, x, taps []float64, spacing int) { correlatePortable(dst, x, taps, spacing) }

func decimate(dst, x, taps []float64, step int) { decimatePortable(dst, x, taps, step) }

func halfBand(dst, even, odd, sides []float64, middle float64) {
	halfBandPortable(dst, even, odd, sides, middle)
}

func logs(dst, x []float64) int { return logsPortable(dst, x) }

func peaks(peak *[Width]float64, x []float64) { peaksPortable(peak, x) }

func exps(dst, x []float64) int { return expsPortable(dst, x) }

func radix4(dst, src Block, turns []float64, m, stride, apart, skip int) {
	radix4Portable(dst, src, turns, m, stride, apart, skip)
}

func radix4Half(dst, src Block, turns []float64, m, apart int) {
	radix4HalfPortable(dst, src, turns, m, apart)
}

func radix4Last(dst, src Block, stride int) { radix4LastPortable(dst, src, stride) }

func radix2(dst, src Block, turns []float64, m, stride int) {
	radix2Portable(dst, src, turns, m, stride)
}

func radix3Last(dst, src Block, stride int) { radix3LastPortable(dst, src, stride) }

func realPowers(dst *[2 * Width][]float64, z spectrum, scale *[2 * Width]float64) {
	realPowersPortable(dst, &z, scale, 0, len(dst[0]))
}

func hilbert(h *Hilbert, y Block) { hilbertPortable(h, y, 1) }

func exchange(x []float64, first, block, distance int) { exchangePortable(x, first, block, distance) }

func addMoments(sums *[3][parts]float64, x []float64, centre float64) {
	addMomentsPortable(sums, x, centre)
}

func takeLimits(lows, highs *[parts]float64, x []float64) { takeLimitsPortable(lows, highs, x) }

func oscillate(o *oscillation, x []float64, n int) { oscillatePortable(o, x, n) }

func (c *Recurrence) count(x []float64, r float64) (two, three int) { return recurPortable(x, r) }
