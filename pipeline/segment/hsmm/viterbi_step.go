package hsmm

import "math"

// viterbiTables hold the best paths through the four states, which lie side by
// side: value t of state j stands at index 4t + j. Scores are logarithms, −Inf
// where impossible.
type viterbiTables struct {
	sojourn  []float64 // score of a sojourn of shortest frames, and of each longer one
	shortest int       // at least 1
	first    []float64 // score of a first run that ends before frame 0, 1, …; impossible beyond the end of the slice
	level    []float64 // of each frame: sum of the scores of all frames before
	entered  []float64 // best score of a path that enters a state, less its level: as many frames before frame 0 as the longest sojourn has, then the frames
}

// viterbiStep scores, for each state and each frame t from 1 to before frames,
// the best path whose run in the state ends before t:
//
//	for t := 1; t < frames; t++ {
//		for j := 0; j < 4; j++ {
//			best := first[t of j]
//			for d := shortest; d <= longest; d++ {
//				best = max(best, entered[t−d of j] + sojourn[d of j])
//			}
//			entered[t of j+1] = best + level[t of j] − level[t of j+1]
//		}
//	}
//
// The lengths of the runs are not kept: only those of the best path are asked for,
// from run, and most hypotheses are asked for their score alone. It panics unless
// the slices are long enough.
func viterbiStep(v *viterbiTables, frames int) {
	if n := len(v.sojourn); v.shortest < 1 || n == 0 || n%4 != 0 || len(v.first)%4 != 0 ||
		len(v.level) < 4*frames || len(v.entered) < n+4*(v.shortest-1+frames) {
		panic("hsmm: a Viterbi step reaches beyond its tables")
	}
	if vector && frames > 1 {
		viterbiStepAVX2(v, frames)
		return
	}
	for t := 1; t < frames; t++ {
		for j := range 4 {
			best, _ := v.run(j, t)
			next := (j + 1) % 4
			v.entered[v.at(t)+next] = best + v.level[4*t+j] - v.level[4*t+next]
		}
	}
}

// at returns the index of frame t in entered.
func (v *viterbiTables) at(t int) int { return len(v.sojourn) + 4*(v.shortest-1+t) }

// run returns the score, less the level of t, of the best path whose run in state j
// ends before frame t, and the length of that run. Of equal scores the shortest
// sojourn wins, and all of them over a first run.
func (v *viterbiTables) run(j, t int) (best float64, length int) {
	best = math.Inf(-1)
	at := v.at(t-v.shortest) + j
	for k := j; k < len(v.sojourn); k += 4 {
		if score := v.entered[at] + v.sojourn[k]; score > best {
			best, length = score, v.shortest+k/4
		}
		at -= 4
	}
	if 4*t < len(v.first) && v.first[4*t+j] > best {
		best, length = v.first[4*t+j], t
	}
	return best, length
}
