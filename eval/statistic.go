package eval

import (
	"fmt"

	"phonocycle/eval/tabular"
)

// statistic is one subject of a [Summary], as it stands in JSON: a field of
// [Statistics]. It says how it is accumulated over recordings and how it is
// printed; the screen, pages and files print whatever tables it gives.
type statistic interface {
	// accumulator returns what accumulates the statistic, empty.
	accumulator(*Rules) accumulator

	// tables returns the statistic as tables, of which those without rows are not
	// printed.
	tables(*basis) []tabular.Table
}

// accumulator accumulates a statistic over recordings.
type accumulator interface {
	// add adds the result of a recording, which is scored or failed.
	add(*recording, *Result)

	// estimate sets the statistic, which is of the type that gave the accumulator,
	// from what was added. What a reader should know is a warning.
	estimate(c *cohort, into statistic, warn func(format string, values ...any))
}

// basis is what the tables of a summary say of how it was made.
type basis struct {
	rules      *RulesSummary
	counts     *Counts
	resamples  int
	provenance *Provenance
}

// withProvenance adds to the columns of scores how they arose, for CSV, which has no
// caption.
func (b *basis) withProvenance(fields ...tabular.Field[Score]) []tabular.Field[Score] {
	if words := b.provenance.Words(); words != "" {
		return append(fields, tabular.Words("Provenance", func(Score) string { return words }).On(tabular.OnlyCSV))
	}
	return fields
}

// headline says where, how widely and with which reference sounds are matched.
func (r *RulesSummary) headline() string {
	text := fmt.Sprintf("at the %v within %g ms", r.Anchor, r.HeadlineMS)
	if r.Reference != "" {
		text += " of the reference " + r.Reference
	}
	return text
}

// intervalNote says what the intervals of a table are.
func (b *basis) intervalNote() string {
	return fmt.Sprintf("95 %% intervals by bootstrap over people (%d resamples).", b.resamples)
}

// bestIntervals makes a column of figures with their best bootstrap intervals.
func bestIntervals[T any](name string, style tabular.Style, of func(*T) (Ratio, *Intervals)) tabular.Field[T] {
	return tabular.Intervals(name, style, func(v T) (value, low, high Ratio) {
		value, intervals := of(&v)
		low, high = intervals.Best()
		return value, low, high
	})
}
