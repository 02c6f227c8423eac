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
	falling []float64 // P(D = d) from the longest sojourn down to min, after zeros that make a multiple of four
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
	l.setFalling()
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

// setFalling lays p out as the inner product over the frames before a given one
// takes it, see product.
func (l *Law) setFalling() {
	n := (len(l.p) + 3) &^ 3
	l.falling = grow(l.falling, n)
	clear(l.falling)
	for k, v := range l.p {
		l.falling[n-1-k] = v
	}
}

// reach returns how many frames back falling looks.
func (l *Law) reach() int { return l.min - 1 + len(l.falling) }

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

// envelop makes l the least upper bound of the given laws, which is no law: its
// values add up to more than one.
func (l *Law) envelop(laws []*Law) {
	l.min = math.MaxInt
	longest := 0
	for _, o := range laws {
		l.min, longest = min(l.min, o.min), max(longest, o.Max())
	}
	l.p, l.tail = grow(l.p, longest-l.min+1), grow(l.tail, longest)
	clear(l.p)
	clear(l.tail)
	for _, o := range laws {
		for k, v := range o.p {
			l.p[o.min-l.min+k] = math.Max(l.p[o.min-l.min+k], v)
		}
		for k, v := range o.tail {
			l.tail[k] = math.Max(l.tail[k], v)
		}
	}
	l.setFalling()
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
