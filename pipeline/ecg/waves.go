package ecg

import (
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/signal"
)

// samples returns the number of samples of a duration, at least one.
func samples(d time.Duration, fs float64) int {
	return max(1, int(math.Round(d.Seconds()*fs)))
}

// bandPass filters x between two edges in hertz, without delay.
func bandPass(x []float64, order int, low, high, fs float64) []float64 {
	sos, err := signal.ButterworthBandPass(order, low, high, fs)
	if err != nil {
		panic(err) // the edges lie below half of MinRate
	}
	return signal.NewZeroPhase(sos).Filter(nil, x)
}

// lowPass filters x below an edge in hertz, without delay.
func lowPass(x []float64, order int, edge, fs float64) []float64 {
	sos, err := signal.ButterworthLowPass(order, edge, fs)
	if err != nil {
		panic(err) // the edge lies below half of MinRate
	}
	return signal.NewZeroPhase(sos).Filter(nil, x)
}

// windowMean returns the mean of y over the samples at most half before and behind
// each, as many of them as there are.
func windowMean(y []float64, half int) []float64 {
	sums := make([]float64, len(y)+1)
	for i, v := range y {
		sums[i+1] = sums[i] + v
	}
	means := make([]float64, len(y))
	for i := range y {
		from, to := max(0, i-half), min(len(y), i+half+1)
		means[i] = (sums[to] - sums[from]) / float64(to-from)
	}
	return means
}

// beatWindow is a length that holds at least one beat of a heart of 30 beats per
// minute.
const beatWindow = 2500 * time.Millisecond

// typicalHeight returns the height that a beat has in y, which is not negative: the
// median of the maxima of windows of that length. Noise in less than half of the
// windows cannot move it far. Windows in which y is next to nothing, as where no
// electrode is in place, are left out. It is infinite where y is zero throughout.
func typicalHeight(y []float64, fs float64) float64 {
	var heights []float64
	for window := range slices.Chunk(y, samples(beatWindow, fs)) {
		heights = append(heights, slices.Max(window))
	}
	slices.Sort(heights)
	least := nextToNothing * heights[len(heights)-1]
	for len(heights) > 0 && heights[0] <= least {
		heights = heights[1:]
	}
	if len(heights) == 0 {
		return math.Inf(1)
	}
	return signal.Quantile(heights, 0.5)
}

// nextToNothing is a share of the largest value below which there is only what a
// filter still remembers of it.
const nextToNothing = 1e-9

// localMaxima returns the samples at which y is larger than anywhere before within
// reach, and not smaller than anywhere behind within reach.
func localMaxima(y []float64, reach int) []int {
	var found []int
	for i := 1; i < len(y)-1; i++ {
		if y[i] > y[i-1] && y[i] >= y[i+1] && largestWithin(y, i, reach) {
			found = append(found, i)
			i += reach // no other lies so near
		}
	}
	return found
}

func largestWithin(y []float64, at, reach int) bool {
	for k := 2; k <= reach; k++ {
		if at-k >= 0 && y[at-k] >= y[at] || at+k < len(y) && y[at+k] > y[at] {
			return false
		}
	}
	return true
}

// largestMagnitude returns the sample within reach of at where |y| is largest.
func largestMagnitude(y []float64, at, reach int) int {
	best := at
	for i := max(0, at-reach); i < min(len(y), at+reach+1); i++ {
		if math.Abs(y[i]) > math.Abs(y[best]) {
			best = i
		}
	}
	return best
}
