package eval

import (
	"cmp"
	"fmt"
	"strings"

	"phonocycle/eval/tabular"
)

// Columns of scores.
var (
	labelColumn = tabular.Words("Label", func(s Score) string {
		label, _ := s.Label()
		return cmp.Or(label, "all")
	})
	valueColumn = tabular.Words("Value", func(s Score) string {
		_, value := s.Label()
		return value
	})
	soundsColumn     = tabular.Words("Sounds", func(s Score) string { return s.Class.String() })
	averageColumn    = tabular.Words("Average", func(s Score) string { return s.Aggregate.Label() })
	peopleColumn     = tabular.Counts("People", func(s Score) int { return s.People })
	recordingsColumn = tabular.Counts("Recordings", func(s Score) int { return s.Recordings })
	tpColumn         = countColumn("TP", func(s *Score) int { return s.TP })
	fpColumn         = countColumn("FP", func(s *Score) int { return s.FP })
	fnColumn         = countColumn("FN", func(s *Score) int { return s.FN })
	recallColumn     = bestIntervals("Recall (Se)", tabular.Percent, func(s *Score) (Ratio, *Intervals) { return s.Recall, &s.intervals().Recall }).CSV("recall")
	precisionColumn  = bestIntervals("Precision (PPV)", tabular.Percent, func(s *Score) (Ratio, *Intervals) { return s.Precision, &s.intervals().Precision }).CSV("precision")
	f1Column         = bestIntervals("F1", tabular.Percent, func(s *Score) (Ratio, *Intervals) { return s.F1, &s.intervals().F1 })
)

// countColumn makes a column of counts of events, which stand in pooled rows alone:
// those that are means are over the same events.
func countColumn(name string, of func(*Score) int) tabular.Field[Score] {
	return tabular.Numbers(name, tabular.Whole, func(s Score) Ratio {
		if s.Aggregate != Pooled {
			return null()
		}
		return Ratio(of(&s))
	})
}

// RatioFields returns the columns of recall, precision and F1 with their intervals.
func RatioFields() []tabular.Field[Score] {
	return []tabular.Field[Score]{recallColumn, precisionColumn, f1Column}
}

func (s *Scores) tables(b *basis) []tabular.Table {
	headline := s.Headline(b.rules, "")
	note := "In %, with " + b.intervalNote()
	list := []tabular.Table{
		tabular.Fill(tabular.Table{Name: "scores", Title: "Scores " + b.rules.headline(), Note: note + headline.unequalMeans()}, headline,
			b.withProvenance(soundsColumn, averageColumn, recallColumn.On(tabular.Brief), precisionColumn.On(tabular.Brief), f1Column, tpColumn, fpColumn, fnColumn)...),
		s.sweepTable(b.rules),
		tabular.Fill(tabular.Table{Name: "strata", Title: "Strata: " + b.rules.SoundsScored() + ", pooled, " + b.rules.headline(), Note: note}, s.Strata(),
			labelColumn, valueColumn, peopleColumn, recordingsColumn, recallColumn.On(tabular.Hidden), precisionColumn.On(tabular.Hidden), f1Column,
			tpColumn, fpColumn, fnColumn),
	}
	wilson := func(name string, of func(*WilsonIntervals, *Score) (Ratio, Bounds)) tabular.Field[Score] {
		return tabular.Intervals(name, tabular.Percent, func(s Score) (value, low, high Ratio) {
			value, bounds := of(s.Wilson, &s)
			return value, bounds[0], bounds[1]
		})
	}
	return append(list, tabular.Fill(tabular.Table{
		Name: "wilson", Title: "Pooled ratios with binomial intervals (Wilson), in %",
		Note: "For comparison with papers that give binomial intervals. They ignore that beats of one person resemble each other, and are too narrow.",
	}, headline.where(func(row *Score) bool { return row.Wilson != nil && row.Recordings > 0 }),
		soundsColumn,
		wilson("Recall (Se)", func(w *WilsonIntervals, s *Score) (Ratio, Bounds) { return s.Recall, w.Recall }).CSV("recall"),
		wilson("Precision (PPV)", func(w *WilsonIntervals, s *Score) (Ratio, Bounds) { return s.Precision, w.Precision }).CSV("precision")))
}

// unequalMeans says over how many recordings or people the means are,
// where that differs from one ratio to another.
func (s Scores) unequalMeans() string {
	note := ""
	for i := range s {
		if n := s[i].MeanOver; n != nil && (n.Recall != n.Precision || n.Recall != n.F1) {
			note += fmt.Sprintf(" %s of %v: recall of %d, precision of %d, F1 of %d.", sentence(s[i].Aggregate.Label()), s[i].Class, n.Recall, n.Precision, n.F1)
		}
	}
	return note
}

// sweepTable gives pooled F1 by tolerance.
func (s Scores) sweepTable(rules *RulesSummary) tabular.Table {
	var rows []Scores
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} { // those that are scored
			if row := s.Sweep(class, anchor); len(row) == len(rules.TolerancesMS) {
				rows = append(rows, row)
			}
		}
	}
	fields := []tabular.Field[Scores]{
		tabular.Words("Sounds", func(r Scores) string { return r[0].Class.String() }),
		tabular.Words("Anchor", func(r Scores) string { return r[0].Anchor.String() }),
	}
	for i, ms := range rules.TolerancesMS {
		fields = append(fields, tabular.Numbers(fmt.Sprintf("%g", ms), tabular.Percent, func(r Scores) Ratio { return r[i].F1 }).CSV(fmt.Sprintf("f1 %g ms", ms)))
	}
	return tabular.Fill(tabular.Table{Name: "tolerance", Title: "F1 in %, pooled, by tolerance in ms"}, rows, fields...)
}

// paperTable gives the scores of all recordings and of strata in one table.
func (s Scores) paperTable(b *basis) tabular.Table {
	return tabular.Fill(tabular.Table{
		Name: "scores", Title: "Scores " + b.rules.headline(),
		Note: fmt.Sprintf("In %%, with %s Recall is sensitivity, precision positive predictive value. %s.", b.intervalNote(), sentence(b.rules.Matching)),
	}, append(s.Headline(b.rules, ""), s.Strata()...),
		b.withProvenance(labelColumn, valueColumn, soundsColumn, averageColumn, peopleColumn, recordingsColumn, recallColumn, precisionColumn, f1Column)...)
}

// sentence begins text with a capital.
func sentence(text string) string { return strings.ToUpper(text[:1]) + text[1:] }
