//go:build !amd64

package lanes

func dot(a, b []float64) float64 { return dotPortable(a, b) }

func correlate(dst, x, taps []float64, spacing int) { correlatePortable(dst, x, taps, spacing) }

func decimate(dst, x, taps []float64, step int) { decimatePortable(dst, x, taps, step) }

func logs(dst, x []float64) int { return logsPortable(dst, x) }

func radix4(dst, src Block, turns []float64, m, stride int) {
	radix4Portable(dst, src, turns, m, stride)
}

func radix2(dst, src Block, turns []float64, m, stride int) {
	radix2Portable(dst, src, turns, m, stride)
}

func radix3(dst, src Block, stride int) { radix3Portable(dst, src, stride) }
