package eval

import (
	"math"
	"slices"
)

// FeatureMatrix holds the features of recordings.
type FeatureMatrix struct {
	Names   []string        // of the features
	Rows    []FeatureVector // one per recording
	LeftOut int             // recordings without features or without a group
}

// FeatureVector is the features of one recording.
type FeatureVector struct {
	Group, Person string
	Values        []float64 // NaN where a feature is null
}

// groupedFeatures are the features that can tell classes apart.
type groupedFeatures struct {
	names   []string // of the features
	classes []string // sorted
	x       [][]float64
	y       []int // class of each recording
	person  []int // of each recording
	people  []Person
}

// newGroupedFeatures numbers classes and people, and leaves out features that are
// null in most recordings or never vary.
func newGroupedFeatures(m *FeatureMatrix) *groupedFeatures {
	d := &groupedFeatures{}
	for _, row := range m.Rows {
		d.classes = append(d.classes, row.Group)
	}
	slices.Sort(d.classes)
	d.classes = slices.Compact(d.classes)
	var keep []int
	for j, name := range m.Names {
		n, low, high := 0, math.Inf(1), math.Inf(-1)
		for _, row := range m.Rows {
			if v := row.Values[j]; !math.IsNaN(v) {
				n, low, high = n+1, math.Min(low, v), math.Max(high, v)
			}
		}
		if 2*n > len(m.Rows) && low < high {
			keep = append(keep, j)
			d.names = append(d.names, name)
		}
	}
	number := make(map[string]int)
	for _, row := range m.Rows {
		if _, ok := number[row.Person]; !ok {
			number[row.Person] = len(d.people)
			d.people = append(d.people, Person{ID: row.Person, Stratum: row.Group})
		}
		class, _ := slices.BinarySearch(d.classes, row.Group)
		values := make([]float64, len(keep))
		for k, j := range keep {
			values[k] = row.Values[j]
		}
		d.x, d.y, d.person = append(d.x, values), append(d.y, class), append(d.person, number[row.Person])
	}
	return d
}

// strata returns the numbers of the people of each class.
func (d *groupedFeatures) strata() [][]int {
	strata := make([][]int, len(d.classes))
	for i, p := range d.people {
		class, _ := slices.BinarySearch(d.classes, p.Stratum)
		strata[class] = append(strata[class], i)
	}
	return strata
}

// isOf reports for each recording whether it is of a class.
func (d *groupedFeatures) isOf(class int) []bool {
	is := make([]bool, len(d.y))
	for i, y := range d.y {
		is[i] = y == class
	}
	return is
}
