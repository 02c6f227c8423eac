package segment

import (
	"math"

	"phonocycle/pipeline/simd"
)

// quartet holds the laws of up to four hypotheses side by side, at index 4k + l
// those of hypothesis l, as package simd has it: four share the frames and take
// little more time than one. Where there are fewer, the others have a probability
// of zero.
type quartet struct {
	count    int
	sojourns [4]sojourns // by state
	first    [simd.Width]float64
}

// sojourns are the laws of one state under the hypotheses of a quartet.
type sojourns struct {
	min, max int       // of any hypothesis
	falling  []float64 // P(D = d) from max down to min
	tail     []float64 // P(D ≥ k), k from 1 to max
}

// set makes q the laws of up to four hypotheses.
func (q *quartet) set(hypotheses []*Laws) {
	q.clear(hypotheses)
	for l, h := range hypotheses {
		q.raise(l, h)
		q.first[l] = 1 / h.cycle()
	}
	q.count = len(hypotheses)
}

// envelop makes hypothesis l of q the least upper bound of the laws of the group l,
// which are no laws, for their values add up to more than one. A recording meets
// them at any frame with a probability of one.
func (q *quartet) envelop(groups [][]*Laws) {
	q.clear(groups...)
	for l, g := range groups {
		for _, h := range g {
			q.raise(l, h)
		}
		q.first[l] = 1
	}
	q.count = len(groups)
}

// clear makes room for the given laws, and all values zero.
func (q *quartet) clear(groups ...[]*Laws) {
	for j := range q.sojourns {
		s := &q.sojourns[j]
		s.min, s.max = math.MaxInt, 0
		for _, g := range groups {
			for _, h := range g {
				s.min, s.max = min(s.min, h[j].min), max(s.max, h[j].Max())
			}
		}
		s.falling = grow(s.falling, simd.Width*(s.max-s.min+1))
		s.tail = grow(s.tail, simd.Width*s.max)
		clear(s.falling)
		clear(s.tail)
	}
	clear(q.first[:])
}

// raise makes the laws of hypothesis l no less than those of h.
func (q *quartet) raise(l int, h *Laws) {
	for j := range q.sojourns {
		s := &q.sojourns[j]
		for k, v := range h[j].p {
			at := &s.falling[simd.Width*(s.max-h[j].min-k)+l]
			*at = max(*at, v)
		}
		for k, v := range h[j].tail {
			at := &s.tail[simd.Width*k+l]
			*at = max(*at, v)
		}
	}
}

// longest returns the longest sojourn in any state under any of the hypotheses.
func (q *quartet) longest() int {
	n := 0
	for j := range q.sojourns {
		n = max(n, q.sojourns[j].max)
	}
	return n
}
