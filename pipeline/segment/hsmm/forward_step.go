package hsmm

import "math"

// forwardState is one of the four states in a forwardStep: its sojourn
// distributions and what has entered it, under four hypotheses side by side.
// Gain and share have one value per frame, for all hypotheses.
type forwardState struct {
	sojourn []float64 // probabilities of sojourns, from the longest to the shortest
	entered []float64 // what entered in each frame: as many before frame 0 as the longest sojourn has, then from it on
	gain    []float64 // factor of what leaves
	left    []float64 // what leaves; it may lie in entered of the next state, behind what is read there in the same frame
	share   []float64 // factor of what leaves, on its way to left
}

// forwardStep advances the forward recursion by so many frames:
//
//	for t := 0; t < frames; t++ {
//		for j := range states {
//			s := &states[j]
//			for l := 0; l < 4; l++ {
//				sum := 0.0
//				for k := 0; 4*k < len(s.sojourn); k++ {
//					sum += s.sojourn[4*k+l] * s.entered[4*(t+k)+l]
//				}
//				s.left[4*t+l] = sum * s.gain[t] * s.share[t]
//			}
//		}
//	}
//
// except that the sum is kept in two parts, of even and of odd k, to which the
// last term is added, all by fused multiply-add. It panics unless the slices
// are long enough.
func forwardStep(states *[4]forwardState, frames int) {
	for j := range states {
		s := &states[j]
		if n := len(s.sojourn); n == 0 || n%batchSize != 0 || len(s.entered) < n+batchSize*(frames-1) ||
			min(len(s.gain), len(s.share)) < frames || len(s.left) < batchSize*frames {
			panic("hsmm: a forward step reaches beyond its slices")
		}
	}
	if vector && frames > 0 {
		forwardStepAVX2(states, frames)
		return
	}
	forwardStepPortable(states, frames)
}

func forwardStepPortable(states *[4]forwardState, frames int) {
	for t := range frames {
		for j := range states {
			s := &states[j]
			for l, v := range sumProducts(s.sojourn, s.entered[batchSize*t:]) {
				s.left[batchSize*t+l] = v * s.gain[t] * s.share[t]
			}
		}
	}
}

// sumProducts returns Σ a[4k+l]·b[4k+l] over the k of a, for each l.
func sumProducts(a, b []float64) (sum [batchSize]float64) {
	var even, odd [batchSize]float64
	for len(a) > 2*batchSize && len(b) > 2*batchSize {
		for l := range batchSize {
			even[l] = math.FMA(a[l], b[l], even[l])
			odd[l] = math.FMA(a[batchSize+l], b[batchSize+l], odd[l])
		}
		a, b = a[2*batchSize:], b[2*batchSize:]
	}
	if len(a) > batchSize {
		for l := range batchSize {
			even[l] = math.FMA(a[l], b[l], even[l])
		}
		a, b = a[batchSize:], b[batchSize:]
	}
	for l := range batchSize {
		sum[l] = math.FMA(a[l], b[l], even[l]+odd[l])
	}
	return sum
}
