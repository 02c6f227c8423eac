package segment

import "math"

// likelihood holds the tables of Decoder.Likelihood, filled on its first call
// for a recording.
type likelihood struct {
	stale  bool
	offset float64      // sum over frames of the largest log-likelihood
	b      [4][]float64 // likelihood of a frame in state j over the largest of the four
	enter  [4][]float64 // scaled probability of the frames before t and entry into j at t
	ratio  [4][]float64 // b[j][t] over the scale of t
}

// prepare fills in what depends on the frames alone.
func (l *likelihood) prepare(cum *[4][]float64, frames int) {
	l.stale = false
	l.offset = 0
	for j := range l.b {
		l.b[j] = grow(l.b[j], frames)
		l.enter[j] = grow(l.enter[j], frames)
		l.ratio[j] = grow(l.ratio[j], frames)
	}
	for t := range frames {
		var row [4]float64
		largest := math.Inf(-1)
		for j := range row {
			row[j] = cum[j][t+1] - cum[j][t]
			largest = math.Max(largest, row[j])
		}
		l.offset += largest
		for j, v := range row {
			l.b[j][t] = math.Exp(v - largest)
		}
	}
}

// Likelihood returns the log-probability of the loaded frames under the given
// laws, summed over all paths: the figure by which two sets of laws should be
// compared. The score of the best path alone favours laws that leave fewer
// paths to share the probability.
//
// It is the forward recursion of the same model (Rabiner 1989, Proc IEEE
// 77:257, doi 10.1109/5.18626): with b_j(t) = exp ℓ(t, j) and i the state
// before j,
//
//	α_j(t) = (1/μ)·P(D_j ≥ t)·Π_{u<t} b_j(u) + Σ_d α_i(t−d)·p_j(d)·Π_{t−d≤u<t} b_j(u),
//
// divided at each t by its largest value to stay within the range of a float64,
// in O(frames × Σ_j longest sojourn of j). It is −Inf where the probability is
// below that range, which takes stretches of frames that fit no state.
func (d *Decoder) Likelihood(laws *Laws) float64 {
	l := &d.sum
	if l.stale {
		l.prepare(&d.cum, d.frames)
	}
	var first [4]float64 // (1/μ)·Π b_j(u), over the scales before t
	for j := range first {
		first[j] = 1 / laws.cycle()
		l.enter[j][0] = 0
		l.ratio[j][0] = l.b[j][0]
	}
	logScale := l.offset
	for t := 1; t < d.frames; t++ {
		var ends [4]float64
		scale := 0.0
		for j := range laws {
			law := &laws[j]
			first[j] *= l.ratio[j][t-1]
			ends[j] = l.arrive(j, t, law.min, law.p)
			if t <= law.Max() {
				ends[j] += first[j] * law.tail[t-1]
			}
			scale = math.Max(scale, ends[j])
		}
		if scale == 0 {
			scale = 1
		}
		logScale += math.Log(scale)
		for j := range laws {
			l.enter[(j+1)%4][t] = ends[j] / scale
			l.ratio[j][t] = l.b[j][t] / scale
		}
	}
	total := 0.0
	for j := range laws {
		law := &laws[j]
		total += l.arrive(j, d.frames, 1, law.tail) +
			first[j]*l.ratio[j][d.frames-1]*law.span(d.frames)
	}
	return logScale + math.Log(total)
}

// arrive returns the scaled sum over runs in state j of shortest frames or more
// that end before t, each weighted by the probability of its length.
func (l *likelihood) arrive(j, t, shortest int, weights []float64) float64 {
	most := min(shortest+len(weights)-1, t-1)
	if most < shortest {
		return 0
	}
	b, enter, ratio := l.b[j], l.enter[j], l.ratio[j]
	product := 1.0 // of the ratios of the frames after the first of the run
	for u := t - 1; u > t-shortest; u-- {
		product *= ratio[u]
	}
	sum := 0.0
	for k, p := range weights[:most-shortest+1] {
		u := t - shortest - k
		sum += product * b[u] * enter[u] * p
		product *= ratio[u]
	}
	return sum
}
