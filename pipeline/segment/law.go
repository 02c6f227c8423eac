package segment

import "math"

// Law is the law of a sojourn: the probability that a state, once entered,
// lasts d frames. The zero Law is not usable; fill it with Set.
type Law struct {
	min     int       // shortest sojourn with any probability, at least 1
	p       []float64 // P(D = min + k)
	logP    []float64 // its logarithm
	tail    []float64 // P(D ≥ k), k from 1 to Max; index k − 1
	logTail []float64 // its logarithm
	mean    float64
	weights []float64 // scratch of SetGaussian
}

// Laws are the laws of the four states in the order of pcg.Cycle.
type Laws [4]Law

// Set makes l the law with P(D = shortest + k) proportional to weights[k]. It
// keeps no reference to weights and allocates only to grow. Shortest must be
// at least 1 and some weight positive, none negative.
func (l *Law) Set(shortest int, weights []float64) {
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
		panic("segment: sojourn law without a possible sojourn")
	}
	l.min = shortest + first
	l.mean = 0
	l.p, l.logP = l.p[:0], l.logP[:0]
	for k, w := range weights[first : last+1] {
		l.p = append(l.p, w/total)
		l.logP = append(l.logP, math.Log(w/total))
		l.mean += float64(l.min+k) * w / total
	}
	l.tail, l.logTail = grow(l.tail, l.Max()), grow(l.logTail, l.Max())
	tail := 0.0
	for d := l.Max(); d >= 1; d-- {
		if d > l.min {
			tail += l.p[d-l.min]
			l.tail[d-1], l.logTail[d-1] = tail, math.Log(tail)
		} else {
			l.tail[d-1], l.logTail[d-1] = 1, 0 // certain, free of rounding
		}
	}
}

// Min and Max return the shortest and longest possible sojourn in frames.
func (l *Law) Min() int { return l.min }

// Max returns the longest possible sojourn in frames.
func (l *Law) Max() int { return l.min + len(l.p) - 1 }

// Mean returns the expected sojourn in frames.
func (l *Law) Mean() float64 { return l.mean }

// LogP returns log P(D = d).
func (l *Law) LogP(d int) float64 {
	if d < l.min || d > l.Max() {
		return math.Inf(-1)
	}
	return l.logP[d-l.min]
}

// LogTail returns log P(D ≥ d), for d ≥ 1.
func (l *Law) LogTail(d int) float64 {
	if d > l.Max() {
		return math.Inf(-1)
	}
	return l.logTail[d-1]
}

// span returns Σ P(D = d)·(d − n + 1) over d ≥ n: the expected number of
// positions of a sojourn in which it covers n given frames.
func (l *Law) span(n int) float64 {
	sum := 0.0
	for d := max(n, l.min); d <= l.Max(); d++ {
		sum += l.p[d-l.min] * float64(d-n+1)
	}
	return sum
}

// cycle returns the expected length of a cycle in frames.
func (ls *Laws) cycle() float64 {
	sum := 0.0
	for j := range ls {
		sum += ls[j].mean
	}
	return sum
}
