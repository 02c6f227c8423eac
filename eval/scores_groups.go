package eval

import (
	"iter"
	"math"
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
	perPerson  []int // recordings of each person
	totals     [classes + 1]counts
}

const (
	ratios       = 3 // recall, precision, F1
	meanColumns  = 2 * (classes + 1) * ratios
	countColumns = 3 * classes
	groupColumns = countColumns + 2*meanColumns
	groupFigures = aggregates * (classes + 1) * ratios
)

// ratiosOf returns recall, precision and F1.
func ratiosOf(t counts) [ratios]Ratio {
	return [ratios]Ratio{Recall(t.tp, t.fn), Precision(t.tp, t.fp), F1(t.tp, t.fp, t.fn)}
}

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
	g.perPerson = make([]int, people)
	for r := range c.counted(stratum) {
		at := int(row[r.person] - 1)
		g.perPerson[at]++
		g.add(at, r)
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
	for class := range r.headline {
		for k, n := range r.headline[class] {
			sums[3*class+k] += float64(n)
		}
	}
	for class := range Class(classes + 1) {
		t := r.counts(class)
		g.totals[class].plus(t)
		addMeans(sums[countColumns:], class, t)
	}
}

// addPeople fills in the ratios of each person from the person's counts.
func (g *group) addPeople() {
	for at := range g.people() {
		sums := g.row(at)
		for class := range Class(classes + 1) {
			addMeans(sums[countColumns+meanColumns:], class, countsOf(sums, class))
		}
	}
}

// countsOf reads the counts of a class from the first columns.
func countsOf(sums []float64, class Class) counts {
	var t counts
	for c := range Class(classes) {
		if class == Both || class == c {
			t.plus(counts{int(sums[3*c]), int(sums[3*c+1]), int(sums[3*c+2])})
		}
	}
	return t
}

// addMeans adds the ratios of one recording or person.
func addMeans(means []float64, class Class, t counts) {
	for k, r := range ratiosOf(t) {
		if !r.Null() {
			at := 2 * (int(class)*ratios + k)
			means[at] += float64(r)
			means[at+1]++
		}
	}
}

// groupRatios computes all ratios of a group, by aggregate, class and ratio.
func groupRatios(f, totals []float64) {
	const step = (classes + 1) * ratios
	for class := range Class(classes + 1) {
		for k, r := range ratiosOf(countsOf(totals, class)) {
			f[int(class)*ratios+k] = float64(r)
		}
	}
	means := totals[countColumns:]
	for i := range 2 * step {
		f[step+i] = math.NaN()
		if n := means[2*i+1]; n > 0 {
			f[step+i] = means[2*i] / n
		}
	}
}

// figureOf is where a ratio stands among those of groupRatios.
func figureOf(aggregate Aggregate, class Class, k int) int {
	return (int(aggregate)*(classes+1)+int(class))*ratios + k
}
