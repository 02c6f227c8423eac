package eval

import (
	"fmt"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// Score is one row of scores. Rows that are means over recordings or people
// carry the counts over all of them beside the mean ratios. Low and High bound
// F1: the BCa interval of a bootstrap over people or, where BCa is undefined,
// the percentile interval. They are given for pooled rows at the headline
// anchor at every tolerance and for all rows at the headline tolerance.
// Intervals of all three ratios stand at the headline tolerance, and in pooled
// rows also those of Wilson.
type Score struct {
	Class       Class           `json:"class"`
	Anchor      Anchor          `json:"anchor"`
	ToleranceMS float64         `json:"tolerance_ms"`
	Aggregate   Aggregate       `json:"aggregate"`
	Stratum     string          `json:"stratum"` // "" for all recordings, or "label=value"
	People      int             `json:"people"`
	Recordings  int             `json:"recordings"`
	TP          int             `json:"tp"`
	FP          int             `json:"fp"`
	FN          int             `json:"fn"`
	Precision   Ratio           `json:"precision"`
	Recall      Ratio           `json:"recall"`
	F1          Ratio           `json:"f1"`
	Low         Ratio           `json:"low"`
	High        Ratio           `json:"high"`
	Intervals   *RatioIntervals `json:"intervals,omitempty"`

	Wilson *WilsonIntervals `json:"wilson,omitempty"`
}

// RatioIntervals holds the bootstrap intervals of the three ratios of a row.
type RatioIntervals struct {
	Recall    Intervals `json:"recall"`
	Precision Intervals `json:"precision"`
	F1        Intervals `json:"f1"`
}

// WilsonIntervals are binomial intervals of pooled ratios, for comparison with
// papers that give them. They ignore that the beats of one person resemble each
// other, and so are too narrow. F1 is no proportion of trials and has none.
type WilsonIntervals struct {
	Recall          Bounds `json:"recall"`
	Precision       Bounds `json:"precision"`
	IgnoresClusters bool   `json:"ignores_clusters"`
}

// wilsonOf returns the binomial intervals of pooled counts.
func wilsonOf(t counts) *WilsonIntervals {
	w := WilsonIntervals{IgnoresClusters: true}
	w.Recall[0], w.Recall[1] = wilson(t.tp, t.tp+t.fn, confidence)
	w.Precision[0], w.Precision[1] = wilson(t.tp, t.tp+t.fp, confidence)
	return &w
}

// Scores lists the rows of scores: over all recordings at the headline, then at
// the other anchors and tolerances, then those of strata.
type Scores []Score

// scores accumulates the counts at all anchors and tolerances.
type scores struct {
	anchor     Anchor // of the headline
	tolerances int
	pooled     [classes][anchors][]counts // by tolerance

	// sweep holds TP, FP and FN of each person by class and tolerance at the
	// anchor of the headline.
	sweep []int32
}

func (*Scores) accumulator(rules *Rules) accumulator {
	a := &scores{anchor: rules.Anchor, tolerances: len(rules.Tolerances)}
	for class := range a.pooled {
		for anchor := range a.pooled[class] {
			a.pooled[class][anchor] = make([]counts, a.tolerances)
		}
	}
	return a
}

// columns is the number of counts in the sweep of a person.
func (a *scores) columns() int { return 3 * classes * a.tolerances }

// column is where the TP of a class and tolerance stands among them.
func (a *scores) column(class Class, tolerance int) int {
	return 3 * (int(class)*a.tolerances + tolerance)
}

func (a *scores) add(rec *recording, r *Result) {
	if more := (int(rec.person)+1)*a.columns() - len(a.sweep); more > 0 {
		a.sweep = append(a.sweep, make([]int32, more)...)
	}
	sweep := a.sweep[int(rec.person)*a.columns():][:a.columns()]
	for i := range r.Counts {
		n, t := &r.Counts[i], i%a.tolerances
		a.pooled[n.Class][n.Anchor][t].plus(counts{n.TP, n.FP, n.FN})
		if n.Anchor == a.anchor {
			for k, v := range [3]int{n.TP, n.FP, n.FN} {
				sweep[a.column(n.Class, t)+k] += int32(v)
			}
		}
	}
}

func (a *scores) estimate(c *cohort, into statistic, warn func(string, ...any)) {
	rows := append(c.headlineRows("", c.group(-1)), a.sweepRows(c)...)
	numbers, _ := c.strata.ordered(c.options.Strata)
	var few, met []string
	for _, n := range numbers {
		name, g := c.strata.values[n].String(), c.group(n)
		met = append(met, c.strata.values[n].name)
		if g.recordings == 0 {
			continue
		}
		rows = append(rows, c.headlineRows(name, g)...)
		if g.people() < c.options.MinPeople {
			few = append(few, fmt.Sprintf("%s (%d)", name, g.people()))
		}
	}
	*into.(*Scores) = rows
	if len(few) > 0 {
		warn("strata of fewer than %d people, given as counts only: %s", c.options.MinPeople, strings.Join(few, ", "))
	}
	for _, name := range c.options.Strata {
		if !slices.Contains(met, name) {
			warn("no recording has a property %q: no strata by it", name)
		}
	}
}

// at returns the rows of the headline of a stratum.
func (s Scores) at(r *RulesSummary, stratum string) Scores {
	return s.where(func(row *Score) bool {
		return row.Stratum == stratum && row.Anchor == r.Anchor && row.ToleranceMS == r.HeadlineMS
	})
}

// strata returns the rows of both sounds, pooled, of all strata.
func (s Scores) strata() Scores {
	return s.where(func(row *Score) bool { return row.Stratum != "" && row.Aggregate == Pooled && row.Class == Both })
}

func (s Scores) where(keep func(*Score) bool) Scores {
	var rows Scores
	for i := range s {
		if keep(&s[i]) {
			rows = append(rows, s[i])
		}
	}
	return rows
}

// pooledF1 finds the F1 of a pooled row over all recordings.
func (s Scores) pooledF1(class Class, anchor Anchor, toleranceMS float64) Ratio {
	for i := range s {
		r := &s[i]
		if r.Class == class && r.Anchor == anchor && r.ToleranceMS == toleranceMS && r.Aggregate == Pooled && r.Stratum == "" {
			return r.F1
		}
	}
	return null()
}

// Columns of scores.
var (
	labelColumn = tabular.Words("Label", func(s Score) string {
		if s.Stratum == "" {
			return "all"
		}
		name, _, _ := strings.Cut(s.Stratum, "=")
		return name
	})
	valueColumn = tabular.Words("Value", func(s Score) string {
		_, value, _ := strings.Cut(s.Stratum, "=")
		return value
	})
	soundsColumn     = tabular.Words("Sounds", func(s Score) string { return s.Class.String() })
	averageColumn    = tabular.Words("Average", func(s Score) string { return s.Aggregate.Label() })
	peopleColumn     = tabular.Counts("People", func(s Score) int { return s.People })
	recordingsColumn = tabular.Counts("Recordings", func(s Score) int { return s.Recordings })
	tpColumn         = tabular.Counts("TP", func(s Score) int { return s.TP })
	fpColumn         = tabular.Counts("FP", func(s Score) int { return s.FP })
	fnColumn         = tabular.Counts("FN", func(s Score) int { return s.FN })
	recallColumn     = ratioColumn("Recall (Se)", func(s *Score) (Ratio, *Intervals) { return s.Recall, &s.intervals().Recall })
	precisionColumn  = ratioColumn("Precision (PPV)", func(s *Score) (Ratio, *Intervals) { return s.Precision, &s.intervals().Precision })
	f1Column         = ratioColumn("F1", func(s *Score) (Ratio, *Intervals) { return s.F1, &s.intervals().F1 })
)

// RatioFields returns the columns of recall, precision and F1 with their intervals.
func RatioFields() []tabular.Field[Score] {
	return []tabular.Field[Score]{recallColumn, precisionColumn, f1Column}
}

func ratioColumn(name string, of func(*Score) (Ratio, *Intervals)) tabular.Field[Score] {
	return tabular.Intervals(name, tabular.Percent, func(s Score) (value, low, high Ratio) {
		value, intervals := of(&s)
		low, high = intervals.Best()
		return value, low, high
	})
}

// intervals returns the intervals of the ratios, null where there are none.
func (s *Score) intervals() *RatioIntervals {
	if s.Intervals != nil {
		return s.Intervals
	}
	none := Intervals{noBounds(), noBounds()}
	return &RatioIntervals{none, none, none}
}

func (s *Scores) tables(b *basis) []tabular.Table {
	headline := s.at(b.rules, "")
	note := "In %, with " + b.intervalNote()
	list := []tabular.Table{
		tabular.Fill(tabular.Table{Name: "scores", Title: "Scores " + b.rules.headline(), Note: note}, headline,
			soundsColumn, averageColumn, recallColumn.On(tabular.Brief), precisionColumn.On(tabular.Brief), f1Column, tpColumn, fpColumn, fnColumn),
		s.sweepTable(b.rules),
		tabular.Fill(tabular.Table{Name: "strata", Title: "Strata: both sounds, pooled, " + b.rules.headline(), Note: note}, s.strata(),
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
		wilson("Recall (Se)", func(w *WilsonIntervals, s *Score) (Ratio, Bounds) { return s.Recall, w.Recall }),
		wilson("Precision (PPV)", func(w *WilsonIntervals, s *Score) (Ratio, Bounds) { return s.Precision, w.Precision })))
}

// sweepTable gives pooled F1 by tolerance.
func (s Scores) sweepTable(rules *RulesSummary) tabular.Table {
	type row struct {
		class  Class
		anchor Anchor
	}
	var rows []row
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} {
			rows = append(rows, row{class, anchor})
		}
	}
	fields := []tabular.Field[row]{
		tabular.Words("Sounds", func(r row) string { return r.class.String() }),
		tabular.Words("Anchor", func(r row) string { return r.anchor.String() }),
	}
	for _, ms := range rules.TolerancesMS {
		fields = append(fields, tabular.Numbers(fmt.Sprintf("%g", ms), tabular.Percent, func(r row) Ratio { return s.pooledF1(r.class, r.anchor, ms) }))
	}
	return tabular.Fill(tabular.Table{Name: "tolerance", Title: "F1 in %, pooled, by tolerance in ms"}, rows, fields...)
}

// paperTable gives the scores of all recordings and of strata in one table.
func (s Scores) paperTable(b *basis) tabular.Table {
	return tabular.Fill(tabular.Table{
		Name: "scores", Title: "Scores " + b.rules.headline(),
		Note: fmt.Sprintf("In %%, with %s Recall is sensitivity, precision positive predictive value. %s.", b.intervalNote(), sentence(b.rules.Matching)),
	}, append(s.at(b.rules, ""), s.strata()...),
		labelColumn, valueColumn, soundsColumn, averageColumn, peopleColumn, recordingsColumn, recallColumn, precisionColumn, f1Column)
}

// sentence begins text with a capital.
func sentence(text string) string { return strings.ToUpper(text[:1]) + text[1:] }
