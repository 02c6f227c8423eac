package eval

import (
	"strings"
	"time"
)

// Score is one row of scores. Rows that are means over recordings or people
// carry the counts over all of them beside the mean ratios. Low and High bound
// F1: the BCa interval of a bootstrap over people or, where BCa is undefined,
// the percentile interval. They are given for pooled rows at the headline
// anchor at every tolerance and for all rows at the headline tolerance.
// MeanOver says how many recordings or people a mean of the headline is over.
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
	MeanOver    *RatioCounts    `json:"mean_over,omitempty"`

	Wilson *WilsonIntervals `json:"wilson,omitempty"`
}

// Label returns the label and the value of a stratum, empty for all recordings.
func (s *Score) Label() (name, value string) {
	name, value, _ = strings.Cut(s.Stratum, "=")
	return name, value
}

// RatioCounts holds in how many recordings or people each of the three ratios
// exists.
type RatioCounts struct {
	Recall    int `json:"recall"`
	Precision int `json:"precision"`
	F1        int `json:"f1"`
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

// intervals returns the intervals of the ratios, null where there are none.
func (s *Score) intervals() *RatioIntervals {
	if s.Intervals != nil {
		return s.Intervals
	}
	none := Intervals{noBounds(), noBounds()}
	return &RatioIntervals{none, none, none}
}

// headlineRows returns the rows of a group at the headline, first the pooled one of
// both sounds, or of S1 where it is scored alone.
func (c *cohort) headlineRows(stratum string, g *group) []Score {
	estimate, total := make([]float64, groupFigures), g.total()
	groupRatios(estimate, total)
	bounds := c.options.bootstrap(&g.clusters, groupFigures, groupRatios)
	few := stratum != "" && g.people() < c.options.MinPeople
	var rows []Score
	for aggregate := range Aggregate(aggregates) {
		for _, class := range c.rules.reported() {
			n := countsIn(total).of(class)
			row := poolRow(class, c.rules.Anchor, c.rules.Headline, n)
			row.Aggregate, row.Stratum = aggregate, stratum
			row.People, row.Recordings = g.people(), g.recordings
			at := figureOf(aggregate, class, 0)
			row.Recall, row.Precision, row.F1 = Ratio(estimate[at]), Ratio(estimate[at+1]), Ratio(estimate[at+2])
			row.Intervals = &RatioIntervals{bounds[at], bounds[at+1], bounds[at+2]}
			row.Low, row.High = bounds[at+2].Best()
			if aggregate == Pooled {
				row.Wilson = wilsonOf(n)
			} else {
				row.MeanOver = meanOver(total, at)
			}
			if few {
				row.Recall, row.Precision, row.F1 = null(), null(), null()
				row.Low, row.High, row.Intervals, row.Wilson = null(), null(), nil, nil
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// poolRow returns a pooled row.
func poolRow(class Class, anchor Anchor, tolerance time.Duration, t counts) Score {
	r := t.ratios()
	return Score{
		Class: class, Anchor: anchor, ToleranceMS: milliseconds(tolerance),
		TP: t.tp, FP: t.fp, FN: t.fn,
		Recall: r[0], Precision: r[1], F1: r[2], Low: null(), High: null(),
	}
}
