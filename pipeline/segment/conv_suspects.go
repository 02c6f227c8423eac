package segment

import (
	"cmp"
	"math"
	"slices"

	"phonocycle/pipeline/segment/network"
)

// suspect is a reference in which S1 and S2 look exchanged beside the other
// recordings of the same person. At rest systole depends on the heart rate and
// the person, not on where on the chest one listens: where its interval from S1
// to S2 departs from the person's others, and that from S2 to S1 does not, the
// annotator has more likely taken one sound for the other than the heart has
// changed its ways.
type suspect struct {
	Recording string
	Cycle     float64 // mean cycle length, s
	Systole   float64 // mean interval from S1 to S2 as annotated, s
	Expected  float64 // the same by the person's other recordings, s
}

// Limits of suspects, in seconds: how far the interval must depart from the
// person's others, twice the spread within people, and by how much exchanging
// the sounds must mend it, half a frame.
const (
	suspectDeparture = 0.030
	suspectGain      = 0.010
	suspectOthers    = 2 // recordings of the same person to compare with, at least
)

// suspects returns the suspects among the examples, in their order. Intervals
// are compared after the regression on the cycle length, which differs a little
// between the recordings of a person.
func suspects(set []network.Example, timing *sojournRegression) []suspect {
	type measured struct {
		index          int
		person         string
		cycle, systole float64
	}
	var all []measured
	for i, e := range set {
		cs := wholeCycles(e.Intervals)
		if len(cs) < leastCycles {
			continue
		}
		m := meanSojourns(cs)
		all = append(all, measured{i, e.Person, m.length(), m[0] + m[1]})
	}
	slices.SortStableFunc(all, func(a, b measured) int { return cmp.Compare(a.person, b.person) })
	var found []int
	byIndex := make(map[int]suspect)
	for from, to := 0, 0; from < len(all); from = to {
		for to = from; to < len(all) && all[to].person == all[from].person; to++ {
		}
		for k, m := range all[from:to] {
			var others []float64
			for l, o := range all[from:to] {
				if l != k {
					others = append(others, o.systole-timing.systole(o.cycle))
				}
			}
			if len(others) < suspectOthers {
				continue
			}
			expected := timing.systole(m.cycle)
			expected += middle(others, m.systole-expected)
			departure := math.Abs(m.systole - expected)
			exchanged := math.Abs(m.cycle - m.systole - expected)
			if departure > suspectDeparture && exchanged < departure-suspectGain {
				found = append(found, m.index)
				byIndex[m.index] = suspect{set[m.index].Recording, m.cycle, m.systole, expected}
			}
		}
	}
	slices.Sort(found)
	var out []suspect
	for _, i := range found {
		out = append(out, byIndex[i])
	}
	return out
}

// middle sorts x, which must not be empty, and returns its median, of two middle
// values the nearer to v: two that disagree are no evidence against either.
func middle(x []float64, v float64) float64 {
	slices.Sort(x)
	low, high := x[(len(x)-1)/2], x[len(x)/2]
	if math.Abs(low-v) <= math.Abs(high-v) {
		return low
	}
	return high
}
