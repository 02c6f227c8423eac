package hsmm

import "math"

// batchSize is the number of hypotheses that share a pass over the frames: four
// float64 fill a vector register, so four take little more time than one.
const batchSize = 4

// batch holds the sojourn distributions of up to four hypotheses side by side:
// value k of hypothesis l stands at index 4k + l. Where there are fewer
// hypotheses, the others have a probability of zero.
type batch struct {
	states [4]batchState
	first  [batchSize]float64 // 1/μ
}

// batchState holds the distributions of one state under the hypotheses.
type batchState struct {
	min, max int       // shortest and longest sojourn under any hypothesis
	falling  []float64 // P(D = d) from max down to min
	tail     []float64 // P(D ≥ k), k from 1 to max
}

// set takes in up to four hypotheses.
func (b *batch) set(hypotheses []*Sojourns) {
	for j := range b.states {
		s := &b.states[j]
		s.min, s.max = math.MaxInt, 0
		for _, h := range hypotheses {
			s.min, s.max = min(s.min, h[j].min), max(s.max, h[j].max())
		}
		s.falling = grow(s.falling, batchSize*(s.max-s.min+1))
		s.tail = grow(s.tail, batchSize*s.max)
		clear(s.falling)
		clear(s.tail)
		for l, h := range hypotheses {
			for k, v := range h[j].p {
				s.falling[batchSize*(s.max-h[j].min-k)+l] = v
			}
			for k, v := range h[j].tail {
				s.tail[batchSize*k+l] = v
			}
		}
	}
	clear(b.first[:])
	for l, h := range hypotheses {
		b.first[l] = 1 / h.cycle()
	}
}
