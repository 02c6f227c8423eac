package features

import (
	"math"
	"slices"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// The search for the two parts of S2. They are 20 to 40 ms apart in
// inspiration and closer than 20 ms in expiration; pathological splits reach
// further (textbook values).
const (
	splitLeast    = 15   // ms between the parts, at least: what the smoothing tells apart
	splitMost     = 100  // ms, at most
	splitHeight   = 0.2  // of the lower part over the higher, at least
	splitSmooth   = 10   // ms, half the width of the smoothing window
	splitShortest = 40   // ms of S2, at least
	splitDip      = 0.05 // depth of the dip between the parts, at least
)

// split is an estimate of the split of S2.
type split struct{ seconds, confidence float64 }

// splitOf returns the split of the sound with the given envelope at 1 kHz. The
// buffer smooth is used and returned.
func splitOf(a, smooth []float64) (split, []float64) {
	smooth = smoothHann(smooth, a)
	first := highest(smooth, 0, len(smooth), -1)
	if first < 0 {
		return split{}, smooth
	}
	best := split{}
	height := 0.0
	for _, side := range [2][2]int{{first - splitMost, first - splitLeast + 1}, {first + splitLeast, first + splitMost + 1}} {
		second := highest(smooth, max(side[0], 0), min(side[1], len(smooth)), first)
		if second < 0 || smooth[second] < splitHeight*smooth[first] || smooth[second] <= height {
			continue
		}
		dip := 1 - least(smooth, first, second)/smooth[second]
		if dip >= splitDip {
			height = smooth[second]
			best = split{seconds: math.Abs(float64(second-first)) / signal.AnalysisRate, confidence: dip}
		}
	}
	return best, smooth
}

// highest returns the place of the highest local maximum of a in [from, to),
// the first of equals, other than at the place not; −1 if there is none. The
// ends of a are no maxima.
func highest(a []float64, from, to, not int) int {
	at := -1
	for i := max(from, 1); i < min(to, len(a)-1); i++ {
		if i != not && a[i] > a[i-1] && a[i] >= a[i+1] && (at < 0 || a[i] > a[at]) {
			at = i
		}
	}
	return at
}

// least returns the lowest value of a from one place to another.
func least(a []float64, i, j int) float64 {
	low := math.Inf(1)
	for _, v := range a[min(i, j) : max(i, j)+1] {
		low = math.Min(low, v)
	}
	return low
}

// splitWindow is a Hann window whose zeros lie just outside.
var splitWindow = signal.HannWindow(splitSmooth)

// smoothHann writes to dst the mean of a under the window around each sample,
// over what there is of a.
func smoothHann(dst, a []float64) []float64 {
	n := len(a)
	dst = slices.Grow(dst[:0], n)[:n]
	from := min(splitSmooth, n)
	to := max(from, n-splitSmooth)
	simd.Correlate(dst[from:to], a, splitWindow, 1)
	for i := from; i < to; i++ {
		dst[i] /= splitSmooth + 1 // the sum of the window
	}
	for i := range from {
		dst[i] = hannAround(a, i)
	}
	for i := to; i < n; i++ {
		dst[i] = hannAround(a, i)
	}
	return dst
}

// hannAround returns the mean of a under the window around the i-th sample, where
// the window reaches beyond a.
func hannAround(a []float64, i int) float64 {
	window := splitWindow[max(splitSmooth-i, 0):min(splitSmooth-i+len(a), len(splitWindow))]
	around := a[max(i-splitSmooth, 0):]
	return simd.Dot(window, around) / simd.Sum(window)
}
