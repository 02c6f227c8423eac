package eval

import (
	"slices"

	"phonocycle/eval/tabular"
)

// Exchange counts S1 taken for S2 and the reverse, sounds found twice, and two
// sounds found as one.
type Exchange struct {
	Pairs         int      `json:"pairs"`           // within the class
	PairsAnyClass int      `json:"pairs_any_class"` // regardless of class
	Exchanged     int      `json:"exchanged"`       // the difference
	Recordings    []string `json:"recordings"`      // that score better with swapped labels
	DoubledS1     int      `json:"doubled_s1"`
	DoubledS2     *int     `json:"doubled_s2"` // null where S2 is not scored
	MergedS1      int      `json:"merged_s1"`
	MergedS2      *int     `json:"merged_s2"`
}

func (*Exchange) accumulator(r *Rules) accumulator {
	e := &Exchange{Recordings: []string{}}
	if !r.S1Only {
		e.DoubledS2, e.MergedS2 = new(int), new(int)
	}
	return e
}

func (e *Exchange) add(rec *recording, r *Result) {
	m := &r.Measures
	e.Pairs += m.Pairs
	e.PairsAnyClass += m.PairsAnyClass
	e.Exchanged = e.PairsAnyClass - e.Pairs
	e.DoubledS1 += m.Doubled[S1]
	e.MergedS1 += m.Merged[S1]
	if e.DoubledS2 != nil {
		*e.DoubledS2 += m.Doubled[S2]
		*e.MergedS2 += m.Merged[S2]
	}
	if m.Exchanged {
		e.Recordings = append(e.Recordings, rec.id)
	}
}

func (e *Exchange) estimate(_ *cohort, into statistic, warn func(string, ...any)) {
	*into.(*Exchange) = *e
	if e.DoubledS2 != nil { // what is added later is not in the estimate
		s := into.(*Exchange)
		s.DoubledS2, s.MergedS2 = new(*e.DoubledS2), new(*e.MergedS2)
	}
	if n := len(e.Recordings); n > 0 {
		warn("%s better with S1 and S2 swapped: they are exchanged in the prediction or in the reference", tabular.Plural(n, "recording scores", "recordings score"))
	}
}

func (e *Exchange) tables(b *basis) []tabular.Table {
	type row struct {
		what string
		n    int
		of   Ratio // null where there is no whole
	}
	rows := []row{
		{"S1 matched with S2, of the matches if class is ignored", e.Exchanged, Ratio(e.PairsAnyClass)},
		{"recordings that score better with S1 and S2 swapped", len(e.Recordings), Ratio(b.counts.Scored + b.counts.Failed)},
		{"S1 found twice", e.DoubledS1, null()}, {"two S1 found as one", e.MergedS1, null()},
	}
	if e.DoubledS2 != nil {
		rows = slices.Insert(rows, 3, row{"S2 found twice", *e.DoubledS2, null()})
		rows = append(rows, row{"two S2 found as one", *e.MergedS2, null()})
	}
	return []tabular.Table{tabular.Fill(tabular.Table{Name: "exchange", Title: "Sounds exchanged, found twice or merged"}, rows,
		tabular.Words("Error", func(r row) string { return r.what }),
		tabular.Counts("Count", func(r row) int { return r.n }),
		tabular.Numbers("Of", tabular.Whole, func(r row) Ratio { return r.of }),
		tabular.Numbers("%", tabular.Percent, func(r row) Ratio { return ratio(float64(r.n), float64(r.of)) }),
	)}
}
