package hsmm

import (
	"math"
	"slices"
)

// SojournDistribution is the probability that a state, once entered, lasts d
// frames. The zero value is not usable; fill it with SetGaussian.
type SojournDistribution struct {
	min     int       // shortest sojourn with any probability, at least 1
	p       []float64 // P(D = min + k)
	logP    []float64 // its logarithm
	tail    []float64 // P(D ≥ k), k from 1 to max; index k − 1
	logTail []float64 // its logarithm
	mean    float64
	weights []float64 // scratch of SetGaussian
}

// Sojourns are the sojourn distributions of the four states in the order of
// pcg.Cycle.
type Sojourns [4]SojournDistribution

// SetGaussian makes s a Gaussian distribution with the given mean and standard
// deviation in frames, cut at low and high: the probability of d frames is the
// mass of [d − ½, d + ½), normalised over the whole numbers d ≥ 1 within
// [low, high], or that nearest to the mean if there is none. It allocates only
// to grow.
func (s *SojournDistribution) SetGaussian(mean, sd, low, high float64) {
	from := max(1, int(math.Ceil(low)))
	to := int(math.Floor(high))
	if to < from {
		from = max(1, int(math.Round(mean)))
		to = from
	}
	s.weights = s.weights[:0]
	total := 0.0
	for d := from; d <= to; d++ {
		w := normalMass((float64(d)-0.5-mean)/sd, (float64(d)+0.5-mean)/sd)
		s.weights = append(s.weights, w)
		total += w
	}
	if total == 0 { // the whole support lies in a far tail
		s.weights = append(s.weights[:0], 1)
		if mean > float64(to) {
			from = to
		}
	}
	s.set(from, s.weights)
}

// Widen mixes s with a uniform distribution, of the given share, over the whole numbers
// from low to high, and over all that s already has.
func (s *SojournDistribution) Widen(low, high, share float64) {
	from := min(max(1, int(math.Ceil(low))), s.min)
	to := max(int(math.Floor(high)), s.max())
	s.weights = s.weights[:0]
	for d := from; d <= to; d++ {
		w := share / float64(to-from+1)
		if d >= s.min && d <= s.max() {
			w += (1 - share) * s.p[d-s.min]
		}
		s.weights = append(s.weights, w)
	}
	s.set(from, s.weights)
}

// normalMass returns Φ(b) − Φ(a) for a ≤ b, without cancellation in the
// tails.
func normalMass(a, b float64) float64 {
	if a > 0 {
		a, b = -b, -a
	}
	return 0.5 * (math.Erfc(-b/math.Sqrt2) - math.Erfc(-a/math.Sqrt2))
}

// set makes P(D = shortest + k) proportional to weights[k]. It keeps no
// reference to weights. Shortest must be at least 1 and some weight positive,
// none negative.
func (s *SojournDistribution) set(shortest int, weights []float64) {
	first, last, total := -1, -1, 0.0
	for k, w := range weights {
		if w > 0 {
			if first < 0 {
				first = k
			}
			last = k
			total += w
		}
	}
	if shortest < 1 || first < 0 {
		panic("hsmm: sojourn distribution without a possible sojourn")
	}
	s.min = shortest + first
	s.mean = 0
	s.p, s.logP = s.p[:0], s.logP[:0]
	for k, w := range weights[first : last+1] {
		s.p = append(s.p, w/total)
		s.logP = append(s.logP, math.Log(w/total))
		s.mean += float64(s.min+k) * w / total
	}
	s.tail, s.logTail = grow(s.tail, s.max()), grow(s.logTail, s.max())
	tail := 0.0
	for d := s.max(); d >= 1; d-- {
		if d > s.min {
			tail += s.p[d-s.min]
			s.tail[d-1], s.logTail[d-1] = tail, math.Log(tail)
		} else {
			s.tail[d-1], s.logTail[d-1] = 1, 0 // certain, free of rounding
		}
	}
}

// Mean returns the expected sojourn in frames.
func (s *SojournDistribution) Mean() float64 { return s.mean }

// max returns the longest possible sojourn in frames.
func (s *SojournDistribution) max() int { return s.min + len(s.p) - 1 }

// logProbability returns log P(D = d).
func (s *SojournDistribution) logProbability(d int) float64 {
	if d < s.min || d > s.max() {
		return math.Inf(-1)
	}
	return s.logP[d-s.min]
}

// logSurvival returns log P(D ≥ d), for d ≥ 1.
func (s *SojournDistribution) logSurvival(d int) float64 {
	if d > s.max() {
		return math.Inf(-1)
	}
	return s.logTail[d-1]
}

// excess returns E[(D − n + 1)⁺] = Σ P(D = d)·(d − n + 1) over d ≥ n: the expected
// number of positions of a sojourn in which it covers n given frames.
func (s *SojournDistribution) excess(n int) float64 {
	sum := 0.0
	for d := max(n, s.min); d <= s.max(); d++ {
		sum += s.p[d-s.min] * float64(d-n+1)
	}
	return sum
}

// cycle returns the expected length of a cycle in frames.
func (ss *Sojourns) cycle() float64 {
	sum := 0.0
	for j := range ss {
		sum += ss[j].mean
	}
	return sum
}

// grow returns a slice of n values, whatever they are, in the memory of s if it
// suffices.
func grow[T any](s []T, n int) []T { return slices.Grow(s[:0], n)[:n] }
