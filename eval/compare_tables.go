package eval

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"

	"phonocycle/eval/tabular"
)

// paperRow is a run in the table for a paper.
type paperRow struct {
	*ComparedRun
	scores []RunScore
	pair   *Pair // with the run that the others are compared with; nil for that run and without one
}

// score returns a headline row of the run.
func (r *paperRow) score(class Class, aggregate Aggregate) Score {
	i := slices.IndexFunc(r.scores, func(s RunScore) bool { return s.Class == class && s.Aggregate == aggregate })
	return r.scores[i].Score
}

// difference returns the difference that is tested, and its test.
func (r *paperRow) difference(class Class) (d Difference, p, adjusted Ratio) {
	if r.pair == nil {
		return Difference{Difference: null(), Low: null(), High: null()}, null(), null()
	}
	return *r.pair.difference(class, PerPerson), r.pair.Test.P, r.pair.AdjustedP
}

// paperTable gives each run one row: what it was scored on, its scores, and its
// difference from the run that all are compared with. The ratios are pooled over
// events. The difference is that of the mean over people, which is what the test is
// about, and so stands beside this mean.
func (c *Comparison) paperTable() tabular.Table {
	var rows []paperRow
	for i := range c.Runs {
		r := paperRow{ComparedRun: &c.Runs[i]}
		for _, s := range c.Scores {
			if s.Run == r.Name {
				r.scores = append(r.scores, s)
			}
		}
		for k := range c.Pairs {
			if c.Against != "" && c.Pairs[k].Second == r.Name {
				r.pair = &c.Pairs[k]
			}
		}
		rows = append(rows, r)
	}
	run := func(f tabular.Field[*ComparedRun]) tabular.Field[paperRow] {
		return tabular.Via(f, func(r paperRow) *ComparedRun { return r.ComparedRun })
	}
	fields := []tabular.Field[paperRow]{run(nameColumn), run(scoredColumn), run(failedColumn)}
	for _, class := range slices.Sorted(slices.Values(c.Rules.reported())) {
		for _, f := range []tabular.Field[Score]{
			recallColumn.Renamed("Recall").On(tabular.NoIntervals), precisionColumn.Renamed("Precision").On(tabular.NoIntervals), f1Column,
		} {
			fields = append(fields, tabular.Via(f.Under(class.String()), func(r paperRow) Score { return r.score(class, Pooled) }))
		}
	}
	fields = append(fields, c.meanFields()...)
	fields = append(fields, run(costColumn))
	fields = append(fields, ruleFields(func(r paperRow) (*ComparedRun, *RulesSummary) { return r.ComparedRun, &c.Rules })...)
	fields = append(fields, run(provenanceColumn))
	return tabular.Fill(tabular.Table{
		Name:  "paper",
		Title: fmt.Sprintf("Scores of %s %s on %s of %s%s", c.Rules.soundsShort(), c.Rules.headline(), tabular.Plural(c.Recordings, "recording", "recordings"), tabular.Plural(c.People, "person", "people"), prefixed(" of ", dataSets(c.Runs))),
		Note:  c.paperNote(),
	}, rows, fields...)
}

// meanFields are the columns of the mean over people.
func (c *Comparison) meanFields() []tabular.Field[paperRow] {
	class := c.Rules.HeadlineClass()
	head := fmt.Sprintf("%v, mean over people", class)
	list := []tabular.Field[paperRow]{
		tabular.Via(f1Column.Under(head), func(r paperRow) Score { return r.score(class, PerPerson) }),
	}
	if c.Against == "" {
		return list
	}
	p := func(r paperRow) Ratio { _, p, _ := r.difference(class); return p }
	adjusted := func(r paperRow) Ratio { _, _, p := r.difference(class); return p }
	return append(list,
		tabular.Words("Against", func(r paperRow) string {
			if r.pair == nil {
				return ""
			}
			return c.Against
		}).On(tabular.OnlyCSV),
		tabular.Intervals("Difference", tabular.Points, func(r paperRow) (value, low, high Ratio) {
			d, _, _ := r.difference(class)
			return d.Difference, d.Low, d.High
		}).Under(head),
		tabular.Numbers("p", tabular.PValue, p).Under(head).On(tabular.OnlyCSV),
		tabular.Numbers("Adjusted p", tabular.PValue, adjusted).Under(head))
}

// paperNote states the rules of the table for a paper.
func (c *Comparison) paperNote() string {
	note := fmt.Sprintf("In %%: recall (sensitivity), precision (positive predictive value) and F1, pooled over events unless the head says otherwise; "+
		"95 %% intervals by bootstrap over people (%d resamples).", c.ScoreResamples)
	if c.Against != "" {
		note += fmt.Sprintf(" Differences: run minus %s, of F1 as mean over people, in percentage points; the same people are drawn for both (%d resamples). "+
			"p: Wilcoxon's signed-rank test of the F1 of people, adjusted after Holm over %s.", c.Against, c.Resamples, tabular.Plural(len(c.Pairs), "pair", "pairs"))
	}
	note += fmt.Sprintf(" Matching: %s.", c.Rules.Matching)
	if slices.ContainsFunc(c.Runs, func(r ComparedRun) bool { return r.Failed > 0 }) {
		note += " Failed: of the recordings, those without output; all their sounds count as missed."
	}
	if slices.ContainsFunc(c.Runs, func(r ComparedRun) bool { return !r.Cost.Null() }) {
		note += " CPU: processor seconds to segment an hour of audio, without fitting."
	}
	return note + provenanceNote(c.Runs)
}

// tables returns the scores of the runs and their differences.
func (c *Comparison) tables() []tabular.Table {
	return []tabular.Table{c.paperTable(), c.differenceTable(c.Rules.reported()...)}
}

// pairDifference is a difference with the pair that it belongs to.
type pairDifference struct {
	*Pair
	*Difference
}

// differenceTable gives the differences of some classes.
func (c *Comparison) differenceTable(of ...Class) tabular.Table {
	var rows []pairDifference
	for i := range c.Pairs {
		for k := range c.Pairs[i].Differences {
			if d := &c.Pairs[i].Differences[k]; slices.Contains(of, d.Class) {
				rows = append(rows, pairDifference{&c.Pairs[i], d})
			}
		}
	}
	tested := func(name string, p func(*Pair) Ratio) tabular.Field[pairDifference] {
		return tabular.Numbers(name, tabular.PValue, func(d pairDifference) Ratio {
			if d.Aggregate != PerPerson || d.Class != c.Rules.HeadlineClass() { // what is tested
				return null()
			}
			return p(d.Pair)
		})
	}
	return tabular.Fill(tabular.Table{
		Name: "comparison",
		Title: fmt.Sprintf("Differences of F1 %s on %s of %s", c.Rules.headline(),
			tabular.Plural(c.Recordings, "recording", "recordings"), tabular.Plural(c.People, "person", "people")),
		Note: fmt.Sprintf("F1 in %%; differences, second minus first, in percentage points with 95 %% intervals by bootstrap over people, the same people drawn for both (%d resamples, seed %d). "+
			"p by Wilcoxon's signed-rank test over people, adjusted after Holm over %s.", c.Resamples, c.Seed, tabular.Plural(len(c.Pairs), "pair", "pairs")),
	}, rows,
		tabular.Words("First", func(d pairDifference) string { return d.Pair.First }),
		tabular.Words("Second", func(d pairDifference) string { return d.Pair.Second }),
		tabular.Words("Sounds", func(d pairDifference) string { return d.Class.String() }),
		tabular.Words("Average", func(d pairDifference) string { return d.Aggregate.Label() }),
		tabular.Numbers("F1 of first", tabular.Percent, func(d pairDifference) Ratio { return d.Difference.First }).On(tabular.OnlyCSV),
		tabular.Numbers("F1 of second", tabular.Percent, func(d pairDifference) Ratio { return d.Difference.Second }).On(tabular.OnlyCSV),
		tabular.Intervals("Difference", tabular.Points, func(d pairDifference) (value, low, high Ratio) {
			return d.Difference.Difference, d.Low, d.High
		}),
		tested("p", func(p *Pair) Ratio { return p.Test.P }),
		tested("Adjusted p", func(p *Pair) Ratio { return p.AdjustedP }),
		tabular.Words("Better", func(d pairDifference) string {
			if d.Aggregate != PerPerson || d.Class != c.Rules.HeadlineClass() {
				return ""
			}
			return cmp.Or(d.Better, "not shown")
		}).On(tabular.OnlyCSV),
	)
}

// WriteTable writes the table for a paper.
func (c *Comparison) WriteTable(w io.Writer, format tabular.Format) error {
	return c.paperTable().Write(w, format)
}

// Differences are the differences of a comparison, to print them in place of the
// scores.
type Differences struct{ *Comparison }

// WriteTable writes the differences of F1 of the headline for a paper.
func (d Differences) WriteTable(w io.Writer, format tabular.Format) error {
	return d.differenceTable(d.Rules.HeadlineClass()).Write(w, format)
}

// WriteText writes c for a reader at a terminal.
func (c *Comparison) WriteText(w io.Writer) error {
	var b bytes.Buffer
	writeTables(&b, c.tables())
	fmt.Fprintln(&b)
	for i := range c.Pairs {
		tabular.Wrap(&b, "", c.Pairs[i].Words)
	}
	return writeText(w, &b, c.Warnings)
}
