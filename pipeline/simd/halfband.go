package simd

import "math"

// halfBandBlock is the number of outputs computed at a time. Their samples fit in
// the first-level cache.
const halfBandBlock = 1024

// HalfBand halves the rate of a signal with a symmetric half-band low-pass, in which
// every second weight except the middle one is zero. A HalfBand serves one goroutine.
type HalfBand struct {
	middle float64
	sides  []float64 // the weights at odd distances, from left to right

	even, odd []float64 // the even and the odd samples of a block
}

// NewHalfBand returns the filter with the given weight in the middle and the
// weights side[i] at the distances 2i + 1 on both sides.
func NewHalfBand(middle float64, side []float64) *HalfBand {
	k := len(side)
	h := &HalfBand{
		middle: middle,
		sides:  make([]float64, 2*k),
		even:   make([]float64, halfBandBlock+2*k),
		odd:    make([]float64, halfBandBlock+2*k),
	}
	for i, w := range side {
		h.sides[k-1-i], h.sides[k+i] = w, w
	}
	return h
}

// Filter computes every second sample of the filtered x, from sample 2·from on:
//
//	for i := range dst {
//		m := 2 * (from + i)
//		sum := middle * x[m]
//		for k, w := range sides { // the distances 1−K, 3−K, … K−1 for K weights
//			sum = math.FMA(w, x[m+2*k+1-len(sides)], sum)
//		}
//		dst[i] = sum
//	}
//
// x counts as zero beyond its ends. dst must not overlap x.
func (h *HalfBand) Filter(dst, x []float64, from int) {
	k := len(h.sides) / 2
	for len(dst) > 0 {
		n := min(len(dst), halfBandBlock)
		h.load(x, from-k, n+2*k-1)
		halfBand(dst[:n], h.even[k:], h.odd, h.sides, h.middle)
		dst, from = dst[n:], from+n
	}
}

// load separates n pairs of samples of x, (x[2m], x[2m+1]), from m = first on.
func (h *HalfBand) load(x []float64, first, n int) {
	even, odd := h.even[:n], h.odd[:n]
	within := func(m int) int { return min(max(m-first, 0), n) }
	from, to := within(0), within(len(x)/2)
	clear(even[:from])
	clear(odd[:from])
	clear(even[to:])
	clear(odd[to:])
	if from < to {
		pairs := x[2*(first+from) : 2*(first+to)]
		even, odd := even[from:to], odd[from:to]
		for i := range even {
			even[i], odd[i] = pairs[2*i], pairs[2*i+1]
		}
	}
	if to < n && len(x)%2 == 1 && first+to == len(x)/2 {
		even[to] = x[len(x)-1]
	}
}

// halfBand is the loop of Filter over a block.
func halfBand(dst, even, odd, sides []float64, middle float64) {
	if whole := len(dst) &^ (Width - 1); vector && whole > 0 {
		halfBandAVX2(&dst[0], &even[0], &odd[0], &sides[0], middle, whole, len(sides))
		dst, even, odd = dst[whole:], even[whole:], odd[whole:]
	}
	for i := range dst {
		sum := middle * even[i]
		for k, w := range sides {
			sum = math.FMA(w, odd[i+k], sum)
		}
		dst[i] = sum
	}
}

// halfBandAVX2 writes n values, a multiple of four, of k weights each.
//
//go:noescape
func halfBandAVX2(dst, even, odd, sides *float64, middle float64, n, k int)
