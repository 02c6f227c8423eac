package eval

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// asItIs names the condition of audio that was not changed.
const asItIs = "as it is"

// conditionName names a condition in tables.
func conditionName(condition string) string {
	if condition == "" {
		return asItIs
	}
	return condition
}

// overview returns the scores of the audio as it is.
func (s *Study) overview() *Overview {
	o := &Overview{Methods: s.Header.Methods, Columns: s.Columns, Resamples: s.Resamples, Seed: s.Seed, Confidence: s.Confidence}
	for i := range s.Cells {
		if c := &s.Cells[i]; c.Condition == "" {
			at := s.column(c.Column)
			o.Cells = append(o.Cells, OverviewCell{at, c.compared(&s.Columns[at]), *c.Score()})
		}
	}
	return o
}

// column returns the position of a column that has scores.
func (s *Study) column(name string) int {
	return slices.IndexFunc(s.Columns, func(c OverviewColumn) bool { return c.Name == name })
}

// compared returns what stands beside the scores of a cell.
func (c *StudyCell) compared(column *OverviewColumn) ComparedRun {
	return ComparedRun{
		Name: c.Method, DataSet: column.DataSet, Version: column.Version, Provenance: c.Provenance,
		People: column.People, Recordings: column.Recordings, Failed: c.Counts.Failed, Cost: null(),
	}
}

// columnField is the column of a table that names that of the study; where there is
// one alone, only programs need it.
func columnField[T any](s *Study, of func(T) string) tabular.Field[T] {
	f := tabular.Words("Column", of)
	if len(s.Columns) == 1 {
		f = f.On(tabular.OnlyCSV)
	}
	return f
}

// Tables returns the tables of the study for readers; those without rows are left out.
func (s *Study) Tables() []tabular.Table {
	var list []tabular.Table
	if slices.ContainsFunc(s.Cells, func(c StudyCell) bool { return c.Condition == "" }) {
		t := s.overview().table()
		t.Title = "F1 of methods on the audio as it is"
		list = append(list, t)
	}
	list = append(list, s.conditionTable(), s.changeTable(), s.lossTable(), s.rankTable(), s.pairTable(), s.failingTable(), s.faultTable())
	return slices.DeleteFunc(list, func(t tabular.Table) bool { return len(t.Rows) == 0 })
}

// methodRow is a method in a column.
type methodRow struct{ column, method string }

// byCondition makes a table of the methods of columns that have a condition, with a
// column for each of some conditions.
func (s *Study) byCondition(t tabular.Table, conditions []string, field func(condition string) tabular.Field[methodRow]) tabular.Table {
	var rows []methodRow
	for i := range s.Columns {
		for _, method := range s.Header.Methods {
			rows = append(rows, methodRow{s.Columns[i].Name, method})
		}
	}
	rows = slices.DeleteFunc(rows, func(r methodRow) bool {
		return !slices.ContainsFunc(s.Cells, func(c StudyCell) bool {
			return c.Column == r.column && c.Method == r.method && c.Condition != ""
		})
	})
	fields := []tabular.Field[methodRow]{
		columnField(s, func(r methodRow) string { return r.column }),
		tabular.Words("Method", func(r methodRow) string { return r.method }),
	}
	for _, condition := range conditions {
		f := field(condition).On(tabular.Brief)
		noise, snr, ok := splitNoise(condition)
		if ok {
			level := strings.Replace(fmt.Sprintf("%g dB", snr), "-", "minus ", 1) // names in CSV have no signs
			f = f.CSV(f.Name + " " + level).Renamed(fmt.Sprintf("%g dB", snr)).Under(noise)
		} else {
			f = f.CSV(f.Name + " " + conditionName(condition)).Renamed(conditionName(condition))
		}
		fields = append(fields, f)
	}
	return tabular.Fill(t, rows, fields...)
}

// conditionTable gives F1 by method and condition.
func (s *Study) conditionTable() tabular.Table {
	return s.byCondition(tabular.Table{
		Name: "conditions", Title: "F1 of methods under each condition",
		Note: fmt.Sprintf("F1 in %%, pooled over events, with 95 %% intervals by bootstrap over people (%d resamples). Decibels are the signal-to-noise ratio. "+
			"Compare methods within a column and a condition only.", s.Resamples),
	}, s.orderedConditions(), func(condition string) tabular.Field[methodRow] {
		return tabular.Intervals("F1", tabular.Percent, func(r methodRow) (value, low, high Ratio) {
			if c := s.Cell(r.column, r.method, condition); c != nil {
				return c.Score().F1, c.Score().Low, c.Score().High
			}
			return null(), null(), null()
		})
	})
}

// changeTable gives what each condition costs each method, in brief.
func (s *Study) changeTable() tabular.Table {
	loss := func(r methodRow, condition string) *StudyLoss {
		i := slices.IndexFunc(s.Losses, func(l StudyLoss) bool {
			return l.Column == r.column && l.Method == r.method && l.Condition == condition
		})
		if i < 0 {
			return &StudyLoss{PerPerson: Difference{Difference: null(), Low: null(), High: null()}}
		}
		return &s.Losses[i]
	}
	conditions := slices.DeleteFunc(s.orderedConditions(), func(condition string) bool { return condition == "" })
	return s.byCondition(tabular.Table{
		Name: "changes", Title: "Change of F1 under each condition, from the audio as it is, as mean over people",
		Note: fmt.Sprintf("In percentage points, under the condition minus as it is, with 95 %% intervals by bootstrap over people, the same people drawn for both (%d resamples). "+
			"[n]: no change is shown: the interval holds 0, or Wilcoxon's signed-rank test of the F1 of people, adjusted after Holm over the conditions of a method in a column, gives p of 0.05 or more.",
			s.DifferenceResamples),
	}, conditions, func(condition string) tabular.Field[methodRow] {
		return tabular.Intervals("change", tabular.Points, func(r methodRow) (value, low, high Ratio) {
			d := loss(r, condition).PerPerson
			return d.Difference, d.Low, d.High
		}).Marked(func(r methodRow) string {
			if l := loss(r, condition); l.PerPerson.Difference.Null() || l.Shown {
				return ""
			}
			return "n"
		})
	})
}

// orderedConditions lists the conditions: the audio as it is, the levels of each kind
// of noise from the faintest, and the others.
func (s *Study) orderedConditions() []string {
	var list []string
	if slices.Contains(s.Header.Conditions, "") {
		list = append(list, "")
	}
	series, others := s.Header.NoiseSeries()
	for _, noise := range series {
		for _, level := range slices.Backward(noise.Levels) {
			list = append(list, level.Condition)
		}
	}
	return append(list, others...)
}

// tested are the differences of F1 of two cells, and the test of their mean.
type tested struct {
	pooled, mean Difference
	p, adjusted  Ratio
}

// testedFields are the columns of differences: pooled, and of the mean over people with
// the test, which is about it.
func testedFields[T any](first, second, difference string, of func(T) tested) []tabular.Field[T] {
	change := func(of func(T) Difference) tabular.Field[T] {
		return tabular.Intervals(difference, tabular.Points, func(v T) (value, low, high Ratio) {
			d := of(v)
			return d.Difference, d.Low, d.High
		})
	}
	pooled := func(v T) Difference { return of(v).pooled }
	mean := func(v T) Difference { return of(v).mean }
	list := []tabular.Field[T]{
		tabular.Numbers(first, tabular.Percent, func(v T) Ratio { return pooled(v).First }).On(tabular.Hidden),
		tabular.Numbers(second, tabular.Percent, func(v T) Ratio { return pooled(v).Second }),
		change(pooled),
	}
	for i := range list {
		list[i] = list[i].Under("Pooled")
	}
	for _, f := range []tabular.Field[T]{
		tabular.Numbers(first, tabular.Percent, func(v T) Ratio { return mean(v).First }).On(tabular.OnlyCSV),
		tabular.Numbers(second, tabular.Percent, func(v T) Ratio { return mean(v).Second }).On(tabular.OnlyCSV),
		change(mean),
		tabular.Numbers("p", tabular.PValue, func(v T) Ratio { return of(v).p }).On(tabular.OnlyCSV),
		tabular.Numbers("Adj. p", tabular.PValue, func(v T) Ratio { return of(v).adjusted }).CSV("adjusted p"),
	} {
		list = append(list, f.Under("Mean over people"))
	}
	return list
}

// testNote says what the intervals and the test of testedFields are; over is what p is
// adjusted over.
func (s *Study) testNote(over string) string {
	return fmt.Sprintf("in percentage points, with 95 %% intervals by bootstrap over people, the same people drawn for both (%d resamples). "+
		"Adj. p: Wilcoxon's signed-rank test of the F1 of people, which is of their mean, adjusted after Holm over %s.", s.DifferenceResamples, over)
}

// lossTable gives what each condition costs each method.
func (s *Study) lossTable() tabular.Table {
	return tabular.Fill(tabular.Table{
		Name: "losses", Title: "Change of F1 under each condition, from the audio as it is",
		Note: "F1 in %; changes, under the condition minus as it is, " + s.testNote("the conditions of a method in a column"),
	}, s.Losses, append([]tabular.Field[StudyLoss]{
		columnField(s, func(l StudyLoss) string { return l.Column }),
		tabular.Words("Method", func(l StudyLoss) string { return l.Method }),
		tabular.Words("Condition", func(l StudyLoss) string { return l.Condition }),
	}, testedFields("F1 as it is", "F1", "Change", func(l StudyLoss) tested {
		return tested{l.Pooled, l.PerPerson, l.Test.P, l.AdjustedP}
	})...)...)
}

// pairTable gives the differences between the methods of each column.
func (s *Study) pairTable() tabular.Table {
	fields := append([]tabular.Field[StudyPair]{
		columnField(s, func(p StudyPair) string { return p.Column }),
		tabular.Words("First", func(p StudyPair) string { return p.First }),
		tabular.Words("Second", func(p StudyPair) string { return p.Second }),
	}, testedFields("F1 of first", "F1", "Difference", func(p StudyPair) tested {
		class := p.Differences[0].Class
		return tested{*p.difference(class, Pooled), *p.difference(class, PerPerson), p.Test.P, p.AdjustedP}
	})...)
	return tabular.Fill(tabular.Table{
		Name: "pairs", Title: "Differences of F1 between methods, on the audio as it is",
		Note: "F1 of the second in %; differences, second minus first, " + s.testNote("the pairs of a column") +
			" Better: where interval and test agree.",
	}, s.Pairs, append(fields, tabular.Words("Better", func(p StudyPair) string { return cmp.Or(p.Better, "not shown") }).On(tabular.Hidden))...)
}

// rankRow is a column under one condition.
type rankRow struct {
	column, condition string
	ranks             []StudyRank
}

// rank returns the rank of a method, with zeros where it has none.
func (r *rankRow) rank(method string) StudyRank {
	for _, k := range r.ranks {
		if k.Method == method {
			return k
		}
	}
	return StudyRank{Lead: null()}
}

// rankTable gives the place of each method in each column and condition.
func (s *Study) rankTable() tabular.Table {
	var rows []rankRow
	for _, r := range s.Ranks {
		if n := len(rows); n == 0 || rows[n-1].column != r.Column || rows[n-1].condition != r.Condition {
			rows = append(rows, rankRow{column: r.Column, condition: r.Condition})
		}
		last := &rows[len(rows)-1]
		last.ranks = append(last.ranks, r)
	}
	fields := []tabular.Field[rankRow]{
		columnField(s, func(r rankRow) string { return r.column }),
		tabular.Words("Condition", func(r rankRow) string { return conditionName(r.condition) }),
	}
	for _, method := range s.Header.Methods {
		fields = append(fields,
			tabular.Numbers("rank", tabular.Whole, func(r rankRow) Ratio {
				if k := r.rank(method); k.Rank > 0 {
					return Ratio(k.Rank)
				}
				return null()
			}).Under(method),
			tabular.Numbers("leads", tabular.Percent, func(r rankRow) Ratio { return r.rank(method).Lead }).Under(method))
	}
	return tabular.Fill(tabular.Table{
		Name: "ranks", Title: "Ranks of methods by F1",
		Note: fmt.Sprintf("By F1, pooled over events; equal scores have the same rank. Leads: share in %% of %d bootstrap samples of people, the same for all methods, in which F1 of the method is the highest; methods with equal scores share a sample.", s.Resamples),
	}, rows, fields...)
}

// failingTable lists the recordings on which every method fails.
func (s *Study) failingTable() tabular.Table {
	fields := []tabular.Field[StudyRecording]{
		columnField(s, func(r StudyRecording) string { return r.Column }),
		tabular.Words("Recording", func(r StudyRecording) string { return r.Recording }),
		tabular.Words("Person", func(r StudyRecording) string { return r.Person }),
		tabular.Words("Best method", func(r StudyRecording) string { return r.Best().Method }),
		tabular.Numbers("Its F1", tabular.Percent, func(r StudyRecording) Ratio { return r.Best().F1 }),
	}
	for _, method := range s.Header.Methods {
		fields = append(fields, tabular.Numbers(method, tabular.Percent, func(r StudyRecording) Ratio { return r.f1(method) }).On(tabular.OnlyCSV))
	}
	return tabular.Fill(tabular.Table{
		Name: "failing", Title: "Recordings on which every method fails",
		Note: fmt.Sprintf("F1 of the recording is below %g %% with each method that has scores in the column, on the audio as it is. The recording or its reference may be at fault.", 100*s.FailBelow),
	}, s.Failing, fields...)
}

// f1 returns the F1 of a method.
func (r *StudyRecording) f1(method string) Ratio {
	i := slices.IndexFunc(r.Scores, func(m MethodScore) bool { return m.Method == method })
	if i < 0 {
		return null()
	}
	return r.Scores[i].F1
}

// faultTable lists the cells without scores.
func (s *Study) faultTable() tabular.Table {
	return tabular.Fill(tabular.Table{Name: "faults", Title: "Cells without scores"}, s.Faults,
		tabular.Words("Cell", func(f StudyFault) string { return f.Cell }),
		tabular.Words("Column", func(f StudyFault) string { return f.Column }).On(tabular.OnlyCSV),
		tabular.Words("Method", func(f StudyFault) string { return f.Method }).On(tabular.OnlyCSV),
		tabular.Words("Condition", func(f StudyFault) string { return conditionName(f.Condition) }).On(tabular.OnlyCSV),
		tabular.Words("Reason", func(f StudyFault) string { return f.Reason }))
}

// WriteTable writes all tables for a paper; as CSV one row for each cell, class and
// average, with the rules.
func (s *Study) WriteTable(w io.Writer, format tabular.Format) error {
	if format == tabular.CSV {
		return s.ScoreTable().Write(w, format)
	}
	for i, t := range s.Tables() {
		if i > 0 {
			if _, err := fmt.Fprintln(w); err != nil {
				return fmt.Errorf("table %s: %w", t.Name, err)
			}
		}
		if err := t.Write(w, format); err != nil {
			return err
		}
	}
	return nil
}

// WriteText writes s for a reader at a terminal, without the tables of differences and
// of recordings, which are long.
func (s *Study) WriteText(w io.Writer) error {
	var b bytes.Buffer
	h := &s.Header
	if h.Title != "" {
		fmt.Fprintln(&b, h.Title)
	}
	fmt.Fprintf(&b, "%s, %s, %s: %s with scores\n", tabular.Plural(len(h.Methods), "method", "methods"), tabular.Plural(len(h.Columns), "column", "columns"),
		tabular.Plural(len(h.Conditions), "condition", "conditions"), tabular.Plural(len(s.Cells), "cell", "cells"))
	writeTables(&b, slices.DeleteFunc(s.Tables(), func(t tabular.Table) bool { return slices.Contains([]string{"losses", "pairs", "failing"}, t.Name) }))
	fmt.Fprintf(&b, "\nEvery method fails on %s (table failing).\n", tabular.Plural(len(s.Failing), "recording", "recordings"))
	return writeText(w, &b, s.Warnings)
}
