package eval

import (
	"fmt"
	"slices"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// FrameSummary compares states over annotated time.
type FrameSummary struct {
	Accuracy  Ratio         `json:"accuracy"`
	States    []string      `json:"states"`
	Confusion [4][4]float64 `json:"confusion_s"` // seconds, by annotated (row) and predicted state
	Missed    [4]float64    `json:"missed_s"`    // seconds of each annotated state with nothing predicted
	Total     float64       `json:"total_s"`
}

// frames adds the times of recordings.
type frames struct{ Frames }

func (*FrameSummary) accumulator(*Rules) accumulator { return new(frames) }

func (f *frames) add(_ *recording, r *Result) { f.plus(&r.Frames) }

// estimate converts to seconds.
func (f *frames) estimate(_ *cohort, into statistic, _ func(string, ...any)) {
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

// annotated returns the seconds of an annotated state.
func (f *FrameSummary) annotated(state int) float64 {
	sum := f.Missed[state]
	for _, t := range f.Confusion[state] {
		sum += t
	}
	return sum
}

// Shares divides the time of an annotated state by predicted state; the last is that
// of time without a prediction.
func (f *FrameSummary) Shares(state int) []Ratio {
	var shares []Ratio
	for _, t := range append(slices.Clone(f.Confusion[state][:]), f.Missed[state]) {
		shares = append(shares, ratio(t, f.annotated(state)))
	}
	return shares
}

// tables gives each annotated state a row, in percent of its time.
func (f *FrameSummary) tables(*basis) []tabular.Table {
	if f.Total == 0 {
		return nil
	}
	fields := []tabular.Field[int]{tabular.Words("Annotated, in %", func(i int) string { return f.States[i] }).CSV("annotated")}
	for j, state := range f.States {
		fields = append(fields, tabular.Numbers(state, tabular.Percent, func(i int) Ratio { return f.Shares(i)[j] }).CSV("predicted "+state))
	}
	fields = append(fields,
		tabular.Numbers("none", tabular.Percent, func(i int) Ratio { return f.Shares(i)[len(f.States)] }).CSV("predicted none"),
		tabular.Numbers("Seconds", tabular.Tenths, f.annotated).CSV("annotated s"))
	return []tabular.Table{tabular.Fill(tabular.Table{
		Name:  "confusion",
		Title: fmt.Sprintf("Predicted states: right in %s %% of %.1f s of annotated time", f.Accuracy.Percent(), f.Total),
	}, []int{0, 1, 2, 3}, fields...)}
}
