package segment

import (
	"fmt"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// personReference is the reference of a recording with the person it is of.
type personReference struct {
	person    string
	intervals []pcg.Interval
}

// labelFrames writes to dst the state of each of n frames by the annotated
// interval that holds its middle, Unannotated where there is none.
func labelFrames(dst []pcg.State, n int, reference []pcg.Interval) []pcg.State {
	dst = grow(dst, n)
	k := 0
	for t := range dst {
		middle := pcg.FromSamples(int64(t*hop+hop/2), signal.AnalysisRate)
		for k < len(reference) && reference[k].End <= middle {
			k++
		}
		dst[t] = pcg.Unannotated
		if k < len(reference) && reference[k].Contains(middle) {
			dst[t] = reference[k].State
		}
	}
	return dst
}

// statePriors returns the share of annotated time in each state.
func statePriors(references []personReference) (p [4]float64, err error) {
	var total float64
	for _, r := range references {
		for _, iv := range r.intervals {
			p[iv.State-pcg.S1] += iv.Duration().Seconds()
			total += iv.Duration().Seconds()
		}
	}
	for j := range p {
		if p[j] == 0 {
			return p, fmt.Errorf("no %v in %d references: a state that never occurs cannot be learnt; add recordings, or check the state codes of the layout", pcg.Cycle[j], len(references))
		}
		p[j] /= total
	}
	return p, nil
}
