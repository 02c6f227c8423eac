package eval

import (
	"iter"
	"slices"
)

// A group is the recordings of one stratum, or all of them, as sums for each
// of its people. Columns are
//
//	TP, FP, FN of S1 and of S2
//	for the means over recordings, then over people, by class and ratio:
//	the sum of the ratios that exist and their number
type group struct {
	clusters
	recordings int
}

const (
	classRatios  = (classes + 1) * numberOfRatios
	meanColumns  = 2 * classRatios
	groupColumns = countColumns + 2*meanColumns
	groupFigures = aggregates * classRatios
)

// group collects the recordings of a stratum, or all for −1. It counts their
// people first, so that sums are made once and at their size.
func (c *cohort) group(stratum int32) *group {
	g := &group{clusters: clusters{columns: groupColumns}}
	row := make([]int32, len(c.names)) // 1 + the row of a person, once met
	people := int32(0)
	for r := range c.counted(stratum) {
		if row[r.person] == 0 {
			people++
			row[r.person] = people
		}
	}
	g.grow(int(people))
	for r := range c.counted(stratum) {
		g.add(int(row[r.person]-1), r)
	}
	g.addPeople()
	return g
}

// counted yields the recordings with counts that belong to a stratum; all belong
// to −1.
func (c *cohort) counted(stratum int32) iter.Seq[*recording] {
	return func(yield func(*recording) bool) {
		for i := range c.recordings {
			r := &c.recordings[i]
			if r.hasCounts && (stratum < 0 || slices.Contains(c.strata.sets[r.strata], stratum)) && !yield(r) {
				return
			}
		}
	}
}

// add adds a recording to the person in a row.
func (g *group) add(at int, r *recording) {
	g.recordings++
	sums := g.row(at)
	for class, n := range r.headline {
		n.addTo(sums, Class(class))
	}
	addMeans(sums[countColumns:], r.headline)
}

// addPeople fills in the ratios of each person from the person's counts.
func (g *group) addPeople() {
	for at := range g.people() {
		sums := g.row(at)
		addMeans(sums[countColumns+meanColumns:], countsIn(sums))
	}
}

// addMeans adds the ratios of one recording or person.
func addMeans(means []float64, n classCounts) {
	for class := range Class(classes + 1) {
		for k, r := range n.of(class).ratios() {
			if !r.Null() {
				at := 2 * (int(class)*numberOfRatios + k)
				means[at] += float64(r)
				means[at+1]++
			}
		}
	}
}

// groupRatios computes all ratios of a group, by aggregate, class and ratio.
func groupRatios(f, totals []float64) {
	n := countsIn(totals)
	for class := range Class(classes + 1) {
		for k, r := range n.of(class).ratios() {
			f[figureOf(Pooled, class, k)] = float64(r)
		}
	}
	means := totals[countColumns:]
	for i := range 2 * classRatios {
		f[classRatios+i] = float64(ratio(means[2*i], means[2*i+1]))
	}
}

// meanOver returns how many ratios the means from a figure of groupRatios on are
// over.
func meanOver(totals []float64, at int) *RatioCounts {
	n := func(k int) int { return int(totals[countColumns+2*(at-classRatios+k)+1]) }
	return &RatioCounts{Recall: n(0), Precision: n(1), F1: n(2)}
}

// figureOf is where a ratio stands among those of groupRatios.
func figureOf(aggregate Aggregate, class Class, k int) int {
	return int(aggregate)*classRatios + int(class)*numberOfRatios + k
}
