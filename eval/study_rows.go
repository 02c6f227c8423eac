package eval

import "phonocycle/eval/tabular"

// cellScore is a row of scores of a cell.
type cellScore struct {
	*StudyCell
	column *OverviewColumn
	Score
}

// cellFields are the columns that name a cell and the data and rules of its scores.
func cellFields() []tabular.Field[cellScore] {
	return []tabular.Field[cellScore]{
		tabular.Words("Column", func(r cellScore) string { return r.column.Name }),
		tabular.Words("Method", func(r cellScore) string { return r.Method }),
		tabular.Words("Condition", func(r cellScore) string { return conditionName(r.Condition) }),
		tabular.Words("Data set", func(r cellScore) string { return r.column.DataSet }),
		tabular.Words("Version", func(r cellScore) string { return r.column.Version }).CSV("data set version"),
		tabular.Words("Reference", func(r cellScore) string { return r.column.Rules.Reference }),
		tabular.Words("Selection", func(r cellScore) string { return r.column.Selection }),
	}
}

// ScoreTable gives each class and average of each cell a row, for programs.
func (s *Study) ScoreTable() tabular.Table {
	var rows []cellScore
	for i := range s.Cells {
		c := &s.Cells[i]
		for _, score := range append(c.Headline[:len(c.Headline):len(c.Headline)], c.Strata...) {
			rows = append(rows, cellScore{c, &s.Columns[s.column(c.Column)], score})
		}
	}
	score := func(f tabular.Field[Score]) tabular.Field[cellScore] {
		return tabular.Via(f, func(r cellScore) Score { return r.Score })
	}
	f1 := tabular.Intervals("F1", tabular.Percent, func(r cellScore) (value, low, high Ratio) { return r.F1, r.Low, r.High })
	return tabular.Fill(tabular.Table{Name: "scores", Title: "Scores of all cells"}, rows, append(cellFields(),
		score(labelColumn), score(valueColumn), score(soundsColumn), score(averageColumn),
		tabular.Words("Anchor", func(r cellScore) string { return r.Anchor.String() }),
		tabular.Numbers("Tolerance", tabular.Exact.In("ms"), func(r cellScore) float64 { return r.ToleranceMS }),
		score(peopleColumn), score(recordingsColumn),
		tabular.Counts("Failed", func(r cellScore) int { return r.Counts.Failed }),
		score(tpColumn), score(fpColumn), score(fnColumn),
		tabular.Numbers("Recall", tabular.Percent, func(r cellScore) Ratio { return r.Recall }),
		tabular.Numbers("Precision", tabular.Percent, func(r cellScore) Ratio { return r.Precision }),
		f1,
		tabular.Words("Provenance", func(r cellScore) string { return r.Provenance.Words() }),
		tabular.Words("Digest", func(r cellScore) string { return r.Digest }))...)
}

// ToleranceTable gives each class, anchor and tolerance of each cell a row, pooled, for
// programs.
func (s *Study) ToleranceTable() tabular.Table {
	var rows []cellScore
	for i := range s.Cells {
		c := &s.Cells[i]
		column := &s.Columns[s.column(c.Column)]
		for _, sweep := range c.Sweep {
			for t, ms := range column.Rules.TolerancesMS {
				rows = append(rows, cellScore{c, column, Score{
					Class: sweep.Class, Anchor: sweep.Anchor, ToleranceMS: ms,
					Recall: sweep.Recall[t], Precision: sweep.Precision[t], F1: sweep.F1[t], Low: sweep.Low[t], High: sweep.High[t],
				}})
			}
		}
	}
	return tabular.Fill(tabular.Table{Name: "tolerances", Title: "Pooled scores of all cells by tolerance"}, rows, append(cellFields(),
		tabular.Via(soundsColumn, func(r cellScore) Score { return r.Score }),
		tabular.Words("Anchor", func(r cellScore) string { return r.Anchor.String() }),
		tabular.Numbers("Tolerance", tabular.Exact.In("ms"), func(r cellScore) float64 { return r.ToleranceMS }),
		tabular.Numbers("Recall", tabular.Percent, func(r cellScore) Ratio { return r.Recall }),
		tabular.Numbers("Precision", tabular.Percent, func(r cellScore) Ratio { return r.Precision }),
		tabular.Intervals("F1", tabular.Percent, func(r cellScore) (value, low, high Ratio) { return r.F1, r.Low, r.High }))...)
}
