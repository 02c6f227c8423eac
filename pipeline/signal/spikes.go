package signal

import (
	"math"
	"slices"

	"phonocycle/pipeline/simd"
)

// SpikeRemover silences the spikes that friction between microphone and skin
// leaves in a recording, by the rule of Schmidt et al. 2010 (Physiol Meas
// 31:513, doi 10.1088/0967-3334/31/4/004; the constants 500 ms and 3 are from
// memory, medium confidence):
//
//  1. Cut the recording into windows of 500 ms and find the maximum absolute
//     amplitude (MAA) of each.
//  2. While one exceeds three times the median MAA, take the window with the
//     largest, and in it the largest sample; set to zero everything between
//     the zero crossings around it.
//
// The rule supposes that most windows hold a sound, which is so above 60
// beats a minute.
type SpikeRemover struct {
	window int
	factor float64
	peaks  []float64
	sorted []float64
}

// NewSpikeRemover returns a remover for windows of the given length in
// samples, at least one, and a threshold of factor times the median. The last
// window takes up what remains.
func NewSpikeRemover(window int, factor float64) *SpikeRemover {
	return &SpikeRemover{window: window, factor: factor}
}

// Remove writes x without its spikes to dst, which may be x, and returns it
// with the number of spikes removed. Signals shorter than two windows are
// left alone.
func (r *SpikeRemover) Remove(dst, x []float64) (clean []float64, removed int) {
	dst = resize(dst, len(x))
	copy(dst, x)
	windows := len(x) / r.window
	if windows < 2 {
		return dst, 0
	}
	r.peaks = resize(r.peaks, windows)
	r.sorted = resize(r.sorted, windows)
	for w := range r.peaks {
		from, to := r.bounds(w, len(x))
		r.peaks[w] = simd.MaxAbs(dst[from:to])
	}
	for {
		copy(r.sorted, r.peaks)
		slices.Sort(r.sorted)
		limit := r.factor * Quantile(r.sorted, 0.5)
		worst := 0
		for w, p := range r.peaks {
			if p > r.peaks[worst] {
				worst = w
			}
		}
		// A median of zero means that most of the recording is silent: there
		// is no usual amplitude that a spike could exceed.
		if limit == 0 || !(r.peaks[worst] > limit) {
			return dst, removed
		}
		r.silence(dst, worst)
		removed++
	}
}

// silence zeroes the half-wave around the largest sample of a window, and
// brings the peaks of all windows that it touches up to date.
func (r *SpikeRemover) silence(x []float64, window int) {
	from, to := r.bounds(window, len(x))
	at := from + slices.IndexFunc(x[from:to], func(v float64) bool { return math.Abs(v) == r.peaks[window] })
	positive := x[at] > 0
	first, last := at, at
	for first > 0 && x[first-1] != 0 && (x[first-1] > 0) == positive {
		first--
	}
	for last < len(x)-1 && x[last+1] != 0 && (x[last+1] > 0) == positive {
		last++
	}
	clear(x[first : last+1])
	final := len(r.peaks) - 1
	for w := min(first/r.window, final); w <= min(last/r.window, final); w++ {
		from, to := r.bounds(w, len(x))
		r.peaks[w] = simd.MaxAbs(x[from:to])
	}
}

// bounds returns the half-open range of window w in a signal of n samples.
func (r *SpikeRemover) bounds(w, n int) (from, to int) {
	from, to = w*r.window, (w+1)*r.window
	if w == len(r.peaks)-1 {
		to = n
	}
	return from, to
}
