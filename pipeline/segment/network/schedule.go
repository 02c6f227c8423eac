package network

import "math"

// schedule is the learning rate over a training of a given number of steps. It
// rises linearly to peak over the first w steps, then falls along half a cosine
// towards zero:
//
//	rate(k) = peak·(k + 1)/(w + 1)                  for k < w,
//	rate(k) = peak·(1 + cos π(k − w)/(steps − w))/2 for k ≥ w.
//
// The rise gives Adam's average of squared gradients time to fill: it spans
// 1/(1 − β₂) = 1000 steps, and before that rests on few batches, so that the
// steps it scales vary in length. A training too short for so long a rise gives
// a quarter of its steps to it, so that in most of any training the rate falls.
// It falls to zero since the last weights are those that are kept or compared:
// the noise of single batches in them shrinks with the rate. The half cosine is
// that of Loshchilov and Hutter 2017, arXiv 1608.03983 (from memory), without
// restarts.
type schedule struct {
	peak  float64
	steps int
}

// longestRise is the number of steps that Adam's average of squares spans.
const longestRise = 1000

// rate returns the learning rate of step k, 0 ≤ k < steps.
func (s schedule) rate(k int) float64 {
	rise := min(longestRise, s.steps/4)
	if k < rise {
		return s.peak * float64(k+1) / float64(rise+1)
	}
	return s.peak * (1 + math.Cos(math.Pi*float64(k-rise)/float64(s.steps-rise))) / 2
}
