package eval

import (
	"cmp"
	"fmt"
	"slices"
)

// NewStudy makes a study of the cells that are done and of those that are not, in any
// order. A run with other recordings or rules than those of its column, and a cell
// that the header does not name, are refused. Options other than resamples and seed have
// no effect, and these are for pairs and losses; scores have the intervals of the options of
// their runs, and ranks follow those of the first.
func NewStudy(h StudyHeader, runs []StudyRun, faults []StudyFault, o Options) (*Study, error) {
	if err := CheckResamples(o.Resamples); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	b := newStudyBuilder(h, o)
	if err := b.sort(runs, faults); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	for _, column := range h.Columns {
		if err := b.addColumn(column); err != nil {
			return nil, fmt.Errorf("study: %w", err)
		}
	}
	b.Warnings = b.warnings(b.missing)
	return b.Study, nil
}

// studyBuilder fills a study column by column.
type studyBuilder struct {
	*Study
	scores      Options // of the first run; ranks follow them
	differences Options // for pairs and losses
	runs        []StudyRun
	missing     []string // cells of the audio as it is, without which others have no loss
}

func newStudyBuilder(h StudyHeader, o Options) *studyBuilder {
	o.Resamples = cmp.Or(o.Resamples, differenceResamples)
	b := &studyBuilder{differences: o.withDefaults()}
	b.Study = &Study{
		Header: h, Columns: []OverviewColumn{}, Cells: []StudyCell{}, Pairs: []StudyPair{}, Losses: []StudyLoss{}, Ranks: []StudyRank{},
		FailBelow: failBelow, Failing: []StudyRecording{}, Faults: []StudyFault{}, Warnings: []string{},
		DifferenceResamples: b.differences.Resamples, Seed: o.Seed, Confidence: confidence,
	}
	return b
}

// sort puts runs and faults into the order of the header, and checks that each is one
// of its cells.
func (b *studyBuilder) sort(runs []StudyRun, faults []StudyFault) error {
	seen := make(map[studyKey]bool)
	for _, k := range studyKeys(runs, faults) {
		if at := b.position(k); slices.Contains(at[:], -1) {
			return fmt.Errorf("the study has no cell of method %q, column %q and condition %q", k.method, k.column, k.condition)
		}
		if seen[k] {
			return fmt.Errorf("the cell of method %q, column %q and condition %q is given twice", k.method, k.column, k.condition)
		}
		seen[k] = true
	}
	compare := func(x, y studyKey) int { a, b := b.position(x), b.position(y); return slices.Compare(a[:], b[:]) }
	b.runs = slices.Clone(runs)
	slices.SortFunc(b.runs, func(x, y StudyRun) int { return compare(x.key(), y.key()) })
	if len(b.runs) > 0 {
		b.scores = b.runs[0].Results.options
	}
	b.Resamples = b.scores.Resamples
	b.Faults = append(b.Faults, faults...)
	slices.SortFunc(b.Faults, func(x, y StudyFault) int { return compare(x.key(), y.key()) })
	return nil
}

// studyKey names a cell.
type studyKey struct{ column, condition, method string }

func (r *StudyRun) key() studyKey   { return studyKey{r.Column, r.Condition, r.Name} }
func (f *StudyFault) key() studyKey { return studyKey{f.Column, f.Condition, f.Method} }

func studyKeys(runs []StudyRun, faults []StudyFault) []studyKey {
	var list []studyKey
	for i := range runs {
		list = append(list, runs[i].key())
	}
	for i := range faults {
		list = append(list, faults[i].key())
	}
	return list
}

// position returns where a cell stands in the header, with −1 for what does not.
func (s *Study) position(k studyKey) [3]int {
	h := &s.Header
	return [3]int{slices.Index(h.Columns, k.column), slices.Index(h.Conditions, k.condition), slices.Index(h.Methods, k.method)}
}

// addColumn adds the cells of a column and what is computed from them.
func (b *studyBuilder) addColumn(name string) error {
	runs := filter(b.runs, func(r *StudyRun) bool { return r.Column == name })
	if len(runs) == 0 {
		return nil
	}
	if err := sameColumn(runs); err != nil {
		return err
	}
	var groups []*group
	for i := range runs {
		groups = append(groups, runs[i].Results.group(-1))
		b.addCell(&runs[i], groups[i])
	}
	b.Columns = append(b.Columns, columnOf(name, &runs[0].Run, groups[0]))
	for _, condition := range b.Header.Conditions {
		b.Ranks = append(b.Ranks, b.scores.studyRanks(runs, groups, condition)...)
	}
	b.Pairs = append(b.Pairs, b.differences.studyPairs(runs, groups)...)
	for _, method := range b.Header.Methods {
		losses, known := b.differences.studyLosses(runs, groups, method)
		if !known {
			b.missing = append(b.missing, name+", "+method)
		}
		b.Losses = append(b.Losses, losses...)
	}
	b.Failing = append(b.Failing, failingRecordings(runs)...)
	return nil
}

// sameColumn returns an error that names the first difference between the runs of a
// column in rules or recordings.
func sameColumn(runs []StudyRun) error {
	var list []Run
	for i := range runs {
		r := runs[i].Run
		r.Name = runs[i].Cell
		list = append(list, r)
	}
	return sameRulesAndRecordings(list)
}

// addCell adds what stands in the study of a cell, whose recordings make a group.
func (b *studyBuilder) addCell(r *StudyRun, g *group) {
	changed, results := r.Condition != "", *r.Results
	if changed {
		results.options.Strata = Grouping{} // no strata of it stand in the study
	}
	s := results.Summary()
	c := StudyCell{
		ID: r.Cell, Column: r.Column, Method: r.Name, Condition: r.Condition, Digest: r.Digest,
		Counts: s.Counts, Errors: r.Results.studyErrors(g, s.Exchange.Recordings), Provenance: r.Provenance,
		Headline: s.Scores.Headline(&s.Rules, "").brief(),
		Cost:     Ratio(r.Cost),
	}
	if r.Cost <= 0 {
		c.Cost = null()
	}
	c.Counts.ByReason = []ReasonCount{}
	if changed {
		c.Provenance.Options, c.Provenance.FitOptions = nil, nil
	} else {
		c.Strata, c.Cycles, c.Frames, c.Rates = s.Scores.Strata().brief(), s.Cycles, s.Frames, s.Rates.brief()
	}
	for anchor := range Anchor(anchors) {
		for _, class := range s.Rules.reported() {
			if changed && (anchor != s.Rules.Anchor || class != s.Rules.HeadlineClass()) {
				continue
			}
			if rows := s.Scores.Sweep(class, anchor); len(rows) > 0 {
				c.Sweep = append(c.Sweep, sweepOf(rows))
			}
		}
	}
	b.Cells = append(b.Cells, c)
}
