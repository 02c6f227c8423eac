package eval

import (
	"cmp"
	"fmt"
	"slices"
)

// studyBuilder fills a study column by column.
type studyBuilder struct {
	*Study
	options Options
	runs    []StudyRun // in the order of the cells
}

// sort puts runs and faults into the order of the header, and checks that each is one
// of its cells.
func (b *studyBuilder) sort(runs []StudyRun, faults []StudyFault) error {
	order := b.order()
	seen := make(map[studyKey]bool)
	check := func(cell string, k studyKey) error {
		if seen[k] {
			return fmt.Errorf("cell %s is given twice", cell)
		}
		seen[k] = true
		if at := order(k); slices.Contains(at[:], -1) {
			return fmt.Errorf("cell %s: the study has no cell of method %q, column %q and condition %q", cell, k.method, k.column, k.condition)
		}
		return nil
	}
	for i := range runs {
		if err := check(runs[i].Cell, runs[i].key()); err != nil {
			return err
		}
	}
	for i := range faults {
		if err := check(faults[i].Cell, faults[i].key()); err != nil {
			return err
		}
	}
	compare := func(x, y studyKey) int { a, b := order(x), order(y); return slices.Compare(a[:], b[:]) }
	b.runs = slices.SortedStableFunc(slices.Values(runs), func(x, y StudyRun) int { return compare(x.key(), y.key()) })
	b.Faults = append(b.Faults, slices.SortedStableFunc(slices.Values(faults), func(x, y StudyFault) int { return compare(x.key(), y.key()) })...)
	return nil
}

// studyKey names a cell.
type studyKey struct{ column, condition, method string }

func (r *StudyRun) key() studyKey   { return studyKey{r.Column, r.Condition, r.Name} }
func (f *StudyFault) key() studyKey { return studyKey{f.Column, f.Condition, f.Method} }

// order returns a function that gives the positions of a cell in the header, −1 where
// it does not stand there.
func (b *studyBuilder) order() func(studyKey) [3]int {
	h := &b.Header
	return func(k studyKey) [3]int {
		return [3]int{slices.Index(h.Columns, k.column), slices.Index(h.Conditions, k.condition), slices.Index(h.Methods, k.method)}
	}
}

// addColumn adds the cells of a column and what is computed from them.
func (b *studyBuilder) addColumn(name string) error {
	first := slices.IndexFunc(b.runs, func(r StudyRun) bool { return r.Column == name })
	if first < 0 {
		return nil
	}
	var runs []StudyRun
	for _, r := range b.runs[first:] {
		if r.Column == name {
			runs = append(runs, r)
		}
	}
	if err := sameColumn(runs); err != nil {
		return err
	}
	b.Columns = append(b.Columns, columnOf(name, &runs[0].Run))
	for i := range runs {
		b.addCell(&runs[i])
	}
	o := &runs[0].Results.options
	b.Resamples, b.Seed = cmp.Or(b.Resamples, o.Resamples), o.Seed
	return nil
}

// sameColumn returns an error that names the first difference between the runs of a
// column in rules or recordings.
func sameColumn(runs []StudyRun) error {
	var plain []Run
	for i := range runs {
		r := runs[i].Run
		r.Name = runs[i].Cell
		plain = append(plain, r)
	}
	return sameRulesAndRecordings(plain)
}

// columnOf says what the runs of a column share.
func columnOf(name string, first *Run) OverviewColumn {
	all := first.Results.group(-1)
	return OverviewColumn{
		Name: name, DataSet: first.DataSet, Version: first.Version, Selection: first.Provenance.selection(),
		Rules: first.Results.rules.summary(), People: all.people(), Recordings: all.recordings,
	}
}

// addCell adds what stands in the study of a cell.
func (b *studyBuilder) addCell(r *StudyRun) {
	s := r.Results.Summary()
	c := StudyCell{
		ID: r.Cell, Column: r.Column, Method: r.Name, Condition: r.Condition, Digest: r.Digest,
		Counts: s.Counts, Provenance: r.Provenance, Cycles: s.Cycles, Frames: s.Frames, Rates: s.Rates, Cost: Ratio(r.Cost),
		Headline: s.Scores.Headline(&s.Rules, "").brief(),
	}
	if r.Cost <= 0 {
		c.Cost = null()
	}
	if r.Condition == "" {
		c.Strata = s.Scores.Strata().brief()
	}
	for anchor := range Anchor(anchors) {
		for _, class := range s.Rules.reported() {
			if rows := s.Scores.Sweep(class, anchor); len(rows) > 0 {
				c.Sweep = append(c.Sweep, sweepOf(rows))
			}
		}
	}
	b.Cells = append(b.Cells, c)
}

// brief returns the rows without what stands in no table of a study.
func (s Scores) brief() Scores {
	rows := slices.Clone(s)
	for i := range rows {
		rows[i].Intervals, rows[i].Wilson = nil, nil
	}
	return rows
}

// sweepOf turns rows of one anchor and class, by tolerance, into columns.
func sweepOf(rows Scores) ToleranceSweep {
	s := ToleranceSweep{Anchor: rows[0].Anchor, Class: rows[0].Class}
	for i := range rows {
		r := &rows[i]
		s.Recall, s.Precision, s.F1 = append(s.Recall, r.Recall), append(s.Precision, r.Precision), append(s.F1, r.F1)
		s.Low, s.High = append(s.Low, r.Low), append(s.High, r.High)
	}
	return s
}
