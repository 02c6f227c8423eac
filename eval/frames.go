package eval

import (
	"fmt"
	"time"

	"phonocycle/eval/tabular"
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

// FrameSummary compares states over annotated time.
type FrameSummary struct {
	Accuracy  Ratio         `json:"accuracy"`
	States    []string      `json:"states"`
	Confusion [4][4]float64 `json:"confusion_s"` // seconds, by annotated (row) and predicted state
	Missed    [4]float64    `json:"missed_s"`    // seconds of each annotated state with nothing predicted
	Total     float64       `json:"total_s"`
}

func (*FrameSummary) accumulator(*Rules) accumulator { return new(Frames) }

func (f *Frames) add(_ *recording, r *Result) { f.plus(&r.Frames) }

// estimate converts to seconds.
func (f *Frames) estimate(_ *cohort, into statistic, _ func(string, ...any)) {
	s := into.(*FrameSummary)
	*s = FrameSummary{Accuracy: f.Accuracy(), Total: f.Total().Seconds()}
	for i, state := range pcg.Cycle {
		s.States = append(s.States, state.String())
		s.Missed[i] = f.Missed[i].Seconds()
		for j := range pcg.Cycle {
			s.Confusion[i][j] = f.Confusion[i][j].Seconds()
		}
	}
}

// tables gives each annotated state a row, in percent of its time.
func (f *FrameSummary) tables(*basis) []tabular.Table {
	if f.Total == 0 {
		return nil
	}
	sum := func(i int) float64 {
		sum := f.Missed[i]
		for _, t := range f.Confusion[i] {
			sum += t
		}
		return sum
	}
	fields := []tabular.Field[int]{tabular.Words("Annotated, in %", func(i int) string { return f.States[i] })}
	for j, state := range f.States {
		fields = append(fields, tabular.Numbers(state, tabular.Percent, func(i int) Ratio { return ratio(f.Confusion[i][j], sum(i)) }))
	}
	fields = append(fields,
		tabular.Numbers("none", tabular.Percent, func(i int) Ratio { return ratio(f.Missed[i], sum(i)) }),
		tabular.Numbers("Seconds", tabular.Tenths, sum))
	return []tabular.Table{tabular.Fill(tabular.Table{
		Name:  "confusion",
		Title: fmt.Sprintf("Predicted states: right in %s %% of %.1f s of annotated time", f.Accuracy.Percent(), f.Total),
	}, []int{0, 1, 2, 3}, fields...)}
}
