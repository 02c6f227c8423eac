package simd

import "math"

// Renewing is one of four states that follow each other in a ring: the laws of its
// sojourns and what has entered it, of four hypotheses side by side. Gain and Share
// have one value a frame, for all hypotheses.
type Renewing struct {
	Sojourn []float64 // probabilities of sojourns, from the longest to the shortest
	Entered []float64 // what entered in each frame, as many before frame 0 as the longest sojourn has, then from it on
	Gain    []float64 // factor of what leaves
	Left    []float64 // what leaves, for Entered of the next state
	Share   []float64 // factor of what leaves, in Left alone
	Weight  []float64 // factor of what leaves, in the sum alone, at every fourth place from frame 0 on; or none
	Trail   []float64 // what leaves: its last values are those of the last frame back to frame 0; or none
}

// Renew solves the renewal equations of a ring of states frame by frame, from frame
// 0 on. For every state and hypothesis,
//
//	left(t) = Gain[t]·Σ_k Sojourn[k]·Entered[t + k],
//
// kept in two sums, of even and of odd k, to the sum of which the last term is
// added. Left takes left(t)·Share[t]; it may lie in Entered of the next state, behind
// what is read of it in the same frame. Renew returns the sum of left(t)·Weight[4t]
// over frames and states, of each hypothesis. It panics unless the sequences are
// long enough for so many frames.
func Renew(ring *[4]Renewing, frames int) (sum [Width]float64) {
	if frames < 1 {
		return sum
	}
	for j := range ring {
		s := &ring[j]
		if n := len(s.Sojourn); n == 0 || n%Width != 0 || len(s.Entered) < n+Width*(frames-1) ||
			min(len(s.Gain), len(s.Share)) < frames || len(s.Left) < Width*frames ||
			len(s.Weight) > 0 && len(s.Weight) < Width*(frames-1)+1 ||
			len(s.Trail) > 0 && len(s.Trail) < Width*frames {
			panic("simd: a renewal reaches beyond its sequences")
		}
	}
	renew(ring, frames, &sum)
	return sum
}

func renewPortable(ring *[4]Renewing, frames int, sum *[Width]float64) {
	for t := range frames {
		for j := range ring {
			s := &ring[j]
			left := sideBySide(s.Sojourn, s.Entered[Width*t:])
			for l, v := range left {
				v *= s.Gain[t]
				s.Left[Width*t+l] = v * s.Share[t]
				if len(s.Weight) > 0 {
					sum[l] = math.FMA(v, s.Weight[Width*t], sum[l])
				}
				if len(s.Trail) > 0 {
					s.Trail[len(s.Trail)-Width*(t+1)+l] = v
				}
			}
		}
	}
}

// sideBySide returns the sums of products of the sequences in a with those in b.
func sideBySide(a, b []float64) (sum [Width]float64) {
	var even, odd [Width]float64
	for len(a) > 2*Width && len(b) > 2*Width {
		for l := range Width {
			even[l] = math.FMA(a[l], b[l], even[l])
			odd[l] = math.FMA(a[Width+l], b[Width+l], odd[l])
		}
		a, b = a[2*Width:], b[2*Width:]
	}
	if len(a) > Width {
		for l := range Width {
			even[l] = math.FMA(a[l], b[l], even[l])
		}
		a, b = a[Width:], b[Width:]
	}
	for l := range Width {
		sum[l] = math.FMA(a[l], b[l], even[l]+odd[l])
	}
	return sum
}
