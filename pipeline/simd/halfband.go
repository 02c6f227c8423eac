package simd

import "math"

// halfBandBlock is the number of outputs whose samples are laid apart at a time:
// few enough that these stay in the nearest cache.
const halfBandBlock = 1024

// HalfBand halves the rate of a signal by a symmetric low-pass of which every
// second weight but the middle one is zero, as is that of an ideal low-pass at a
// quarter of the rate. A HalfBand serves one goroutine.
type HalfBand struct {
	middle float64
	sides  []float64 // the weights at odd distances, from the left to the right

	even, odd []float64 // samples of a block, apart
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

// Filter writes to dst[i] the filtered x at its sample m = 2·(from + i),
//
//	middle·x[m] + Σ_i side[i]·(x[m−2i−1] + x[m+2i+1])
//
// where x is zero beyond its ends, before which from may lie and behind which dst
// may reach. Terms are added from left to right after the middle one. dst must not
// overlap x.
func (h *HalfBand) Filter(dst, x []float64, from int) {
	k := len(h.sides) / 2
	for len(dst) > 0 {
		n := min(len(dst), halfBandBlock)
		h.load(x, from-k, n+2*k-1)
		halfBand(dst[:n], h.even[k:], h.odd, h.sides, h.middle)
		dst, from = dst[n:], from+n
	}
}

// load lays apart n pairs of samples of x, (x[2m], x[2m+1]), of which m = first is
// the first.
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

func halfBandPortable(dst, even, odd, sides []float64, middle float64) {
	for i := range dst {
		sum := middle * even[i]
		for k, w := range sides {
			sum = math.FMA(w, odd[i+k], sum)
		}
		dst[i] = sum
	}
}
