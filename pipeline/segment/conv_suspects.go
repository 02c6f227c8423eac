package segment

import (
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
		recording, person string
		mean              cycleSojourns
	}
	var all []measured
	for _, e := range set {
		if cs := wholeCycles(e.Intervals); len(cs) >= leastCycles {
			all = append(all, measured{e.Recording, e.Person, meanSojourns(cs)})
		}
	}
	var found []suspect
	for i, m := range all {
		var others []float64
		for k, o := range all {
			if k != i && o.person == m.person {
				others = append(others, timing.departure(o.mean))
			}
		}
		if len(others) < suspectOthers {
			continue
		}
		cycle, systole := m.mean.length(), m.mean[0]+m.mean[1]
		expected := timing.systole(cycle) + middle(others, timing.departure(m.mean))
		departure := math.Abs(systole - expected)
		exchanged := math.Abs(cycle - systole - expected)
		if departure > suspectDeparture && exchanged < departure-suspectGain {
			found = append(found, suspect{m.recording, cycle, systole, expected})
		}
	}
	return found
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
