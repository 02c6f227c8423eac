package segment

import (
	"math"

	"phonocycle/pipeline/simd"
)

// field is a set of hypotheses that race against each other. Neighbours run side by
// side in quartets, and the quartets fall into four groups of neighbours, each with
// its own bounds of what is to come: the fewer hypotheses a bound holds for, the
// lower it is.
type field struct {
	entries   []entry
	quartets  []quartet
	envelopes quartet // of the groups
	racers    []forward
}

// entry is a hypothesis of a field.
type entry struct {
	cycle, shift int     // on the grid
	penalty      float64 // taken from its score
	laws         *Laws
}

func (f *field) clear()        { f.entries = f.entries[:0] }
func (f *field) enter(e entry) { f.entries = append(f.entries, e) }

// draw sorts the hypotheses that have entered into quartets and groups.
func (f *field) draw() {
	quartets := (len(f.entries) + simd.Width - 1) / simd.Width
	f.quartets, f.racers = lengthen(f.quartets, quartets), lengthen(f.racers, quartets)
	var groups [simd.Width][]*Laws
	var laws [simd.Width]*Laws
	for q := range f.quartets {
		members := f.entries[simd.Width*q : min(simd.Width*(q+1), len(f.entries))]
		for l, e := range members {
			laws[l] = e.laws
			groups[f.group(q)] = append(groups[f.group(q)], e.laws)
		}
		f.quartets[q].set(laws[:len(members)])
	}
	f.envelopes.envelop(groups[:])
}

// lengthen returns s with n elements, those that it has had before among them.
func lengthen[T any](s []T, n int) []T {
	if cap(s) < n {
		s = append(s[:cap(s)], make([]T, n-cap(s))...)
	}
	return s[:n]
}

// group returns the group of a quartet.
func (f *field) group(q int) int { return simd.Width * q / len(f.quartets) }

// start takes all to the start.
func (f *field) start(frames *scaledFrames, ahead *futures, of paths) {
	for q := range f.racers {
		r, laws := &f.racers[q], &f.quartets[q]
		r.start(frames, laws, of)
		for l := range laws.count {
			r.bound[l] = ahead.all[f.group(q)] + math.Log(laws.first[l])
		}
	}
}

// score returns the score of a hypothesis, −Inf if it has not finished.
func (f *field) score(i int) float64 {
	r := &f.racers[i/simd.Width]
	if !r.finished {
		return math.Inf(-1)
	}
	return r.score[i%simd.Width]
}

// leader returns the one of the quartets on their way of which a score may be the
// highest after its penalty, or −1.
func (f *field) leader() (leader int, highest float64) {
	leader, highest = -1, math.Inf(-1)
	for i, e := range f.entries {
		r := &f.racers[i/simd.Width]
		if b := r.bound[i%simd.Width] - e.penalty; !r.finished && b > highest {
			leader, highest = i/simd.Width, b
		}
	}
	return leader, highest
}
