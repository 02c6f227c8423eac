package eval

import (
	"fmt"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// Pair compares two runs. The difference that decides is that of the mean over
// people of F1 over both sounds, or of S1 where it is scored alone, since people are
// what is drawn and tested.
type Pair struct {
	First       string       `json:"first"`
	Second      string       `json:"second"`
	Differences []Difference `json:"differences"`
	Test        SignedRank   `json:"wilcoxon"` // of the F1 that decides, over people
	AdjustedP   Ratio        `json:"adjusted_p"`
	Better      string       `json:"better"` // name of the run that the data support as better, or ""
	Words       string       `json:"words"`
}

// Difference is second minus first of F1 for one class and aggregate, with an
// interval from resamples that draw the same people for both.
type Difference struct {
	Class      Class     `json:"class"`
	Aggregate  Aggregate `json:"aggregate"`
	First      Ratio     `json:"first"`
	Second     Ratio     `json:"second"`
	Difference Ratio     `json:"difference"`
	Low        Ratio     `json:"low"` // BCa, or percentile where that is undefined
	High       Ratio     `json:"high"`

	Intervals *Intervals `json:"intervals,omitempty"` // not in a study
}

// significance is the level at which an adjusted p counts: the complement of
// the confidence of the intervals.
const significance = 1 - confidence

// pairs compares pairs of runs, given by their positions, by the given classes, of which
// the first decides, and adjusts the tests for the number of pairs. Groups hold all
// recordings of the runs.
func (o *Options) pairs(runs []Run, groups []*group, at [][2]int, reported []Class) []Pair {
	var list []Pair
	var p []Ratio
	for _, at := range at {
		pair := o.pair(groups[at[0]], groups[at[1]], reported)
		pair.First, pair.Second = runs[at[0]].Name, runs[at[1]].Name
		list, p = append(list, pair), append(p, pair.Test.P)
	}
	for i, adjusted := range holm(p) {
		list[i].AdjustedP = adjusted
		list[i].judge(reported[0])
	}
	return list
}

// pair compares two groups of the same people in the same order, by the given
// classes, of which the first decides.
func (o *Options) pair(a, b *group, reported []Class) Pair {
	joint := &clusters{columns: 2 * groupColumns}
	var perPerson []float64
	for i := range a.people() {
		joint.sums = append(append(joint.sums, a.row(i)...), b.row(i)...)
		if f, g := countsIn(a.row(i)).of(reported[0]).f1(), countsIn(b.row(i)).of(reported[0]).f1(); !f.Null() && !g.Null() {
			perPerson = append(perPerson, float64(g-f))
		}
	}
	var figures []int // F1 of each aggregate and class
	for aggregate := range Aggregate(aggregates) {
		for _, class := range reported {
			figures = append(figures, figureOf(aggregate, class, numberOfRatios-1))
		}
	}
	first, second := make([]float64, groupFigures), make([]float64, groupFigures)
	groupRatios(first, a.total())
	groupRatios(second, b.total())
	bounds := o.bootstrap(joint, len(figures), func(f, totals []float64) { pairRatios(f, totals, figures) })
	p := Pair{Test: wilcoxon(perPerson)}
	for aggregate := range Aggregate(aggregates) {
		for i, class := range reported {
			k := int(aggregate)*len(reported) + i
			at := figures[k]
			d := Difference{
				Class: class, Aggregate: aggregate, First: Ratio(first[at]), Second: Ratio(second[at]),
				Difference: Ratio(second[at] - first[at]), Intervals: &bounds[k],
			}
			d.Low, d.High = bounds[k].Best()
			p.Differences = append(p.Differences, d)
		}
	}
	return p
}

// pairRatios computes for some of the ratios of a group second minus first.
func pairRatios(f, totals []float64, figures []int) {
	var first, second [groupFigures]float64
	groupRatios(first[:], totals[:groupColumns])
	groupRatios(second[:], totals[groupColumns:])
	for i, at := range figures {
		f[i] = second[at] - first[at]
	}
}

// difference returns one of the differences.
func (p *Pair) difference(class Class, aggregate Aggregate) *Difference {
	i := slices.IndexFunc(p.Differences, func(d Difference) bool { return d.Class == class && d.Aggregate == aggregate })
	return &p.Differences[i]
}

// judge states what the data support of the given class. A difference is
// supported when interval and test agree that it is not zero.
func (p *Pair) judge(class Class) {
	d := p.difference(class, PerPerson)
	first, second, difference, low, high := p.First, p.Second, d.Difference, d.Low, d.High
	if difference < 0 { // name the higher one first
		first, second, difference, low, high = second, first, 0-difference, 0-high, 0-low // 0 stays 0, and not −0
	}
	of := ""
	if class != Both {
		of = fmt.Sprintf(" of %v", class)
	}
	size := fmt.Sprintf("%s is %s points above %s in mean F1%s over people (95 %% interval %s to %s), adjusted p %s",
		second, strings.TrimPrefix(tabular.Number(difference, tabular.Points).String(), "+"), first, of, tabular.Number(low, tabular.Points), tabular.Number(high, tabular.Points), tabular.Number(p.AdjustedP, tabular.PValue))
	apart := !d.Low.Null() && (d.Low > 0 || d.High < 0)
	tested := !p.AdjustedP.Null() && p.AdjustedP < significance
	switch {
	case apart && tested:
		p.Better = second
		p.Words = fmt.Sprintf("The data support that %s is better than %s: %s.", second, first, size)
	case apart || tested:
		p.Words = fmt.Sprintf("Undecided between %s and %s: interval and test disagree; %s.", p.First, p.Second, size)
	case d.Low.Null():
		p.Words = fmt.Sprintf("No statement on %s and %s: there are too few people for an interval.", p.First, p.Second)
	default:
		p.Words = fmt.Sprintf("The data do not tell %s and %s apart: %s. This does not prove that they are equal.", p.First, p.Second, size)
	}
}
