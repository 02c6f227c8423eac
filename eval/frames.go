package eval

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// Frames compares states over time: how long each annotated state was
// predicted as each state. It is the limit of counting frames as they grow
// short, and so depends on no frame rate. Gaps closed in scored time carry no
// state and are not compared.
type Frames struct {
	// Confusion holds time by annotated (first index) and predicted (second)
	// state, in the order of [pcg.Cycle].
	Confusion [4][4]time.Duration

	// Missed is the time of each annotated state at which nothing is predicted.
	Missed [4]time.Duration
}

// compare adds the comparison of two sorted lists of disjoint intervals.
func (f *Frames) compare(reference, predicted []pcg.Interval) {
	j := 0
	for _, r := range reference {
		state := r.State - pcg.S1
		rest := r.Duration()
		for j < len(predicted) && predicted[j].End <= r.Start {
			j++
		}
		for k := j; k < len(predicted) && predicted[k].Start < r.End; k++ {
			p := predicted[k]
			overlap := min(p.End, r.End) - max(p.Start, r.Start)
			if p.State == pcg.Unannotated || overlap <= 0 {
				continue
			}
			f.Confusion[state][p.State-pcg.S1] += overlap
			rest -= overlap
		}
		f.Missed[state] += max(rest, 0)
	}
}

// plus adds the times of g to f.
func (f *Frames) plus(g *Frames) {
	for i := range f.Confusion {
		for j := range f.Confusion[i] {
			f.Confusion[i][j] += g.Confusion[i][j]
		}
		f.Missed[i] += g.Missed[i]
	}
}

// Right returns the time at which the predicted state is the annotated one.
func (f *Frames) Right() time.Duration {
	var sum time.Duration
	for i := range f.Confusion {
		sum += f.Confusion[i][i]
	}
	return sum
}

// Total returns the annotated time.
func (f *Frames) Total() time.Duration {
	var sum time.Duration
	for i := range f.Confusion {
		sum += f.Missed[i]
		for _, t := range f.Confusion[i] {
			sum += t
		}
	}
	return sum
}

// Accuracy returns the share of annotated time at which the predicted state is
// the annotated one, null without annotated time.
func (f *Frames) Accuracy() Ratio {
	return ratio(float64(f.Right()), float64(f.Total()))
}
