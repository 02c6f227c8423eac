package eval

import "math"

// StudyRank is the place of a method among those of a column under one condition, by
// pooled F1 of the headline.
//
// Its lead says how sure the first place is: of B bootstrap samples of people, the
// same for all methods, the share in which its F1 is the highest. Where k methods
// share the highest F1 of a sample, each has 1/k of it:
//
//	lead(m) = 1/B Σ_b [F1(m,b) = max] / k(b)
//
// so that the leads of all methods add up to 1. A lead is no probability that a method
// is the best one: it says how often other people of the same kind would put it first.
// It is null for fewer than two people.
type StudyRank struct {
	Column    string `json:"column"`
	Condition string `json:"condition"`
	Method    string `json:"method"`
	F1        Ratio  `json:"f1"`
	Rank      int    `json:"rank"` // 1 + the number of methods with a higher F1; 0 without F1
	Lead      Ratio  `json:"lead"`
}

// studyRanks returns the ranks of all methods of a column under a condition; nil if they
// are fewer than two.
func (o *Options) studyRanks(runs []StudyRun, groups []*group, condition string) []StudyRank {
	var methods []string
	var of []*group
	for i := range runs {
		if runs[i].Condition == condition {
			methods, of = append(methods, runs[i].Name), append(of, groups[i])
		}
	}
	if len(methods) < 2 {
		return nil
	}
	class := runs[0].Results.rules.reported()[0]
	f1 := make([]float64, len(of))
	for i, g := range of {
		f1[i] = float64(countsIn(g.total()).of(class).f1())
	}
	leads := o.leads(of, class)
	var list []StudyRank
	for i, method := range methods {
		list = append(list, StudyRank{runs[0].Column, condition, method, Ratio(f1[i]), rank(f1, i), leads[i]})
	}
	return list
}

// rank returns 1 + the number of values above the i-th, or 0 for NaN.
func rank(values []float64, i int) int {
	if math.IsNaN(values[i]) {
		return 0
	}
	above := 1
	for _, v := range values {
		if v > values[i] {
			above++
		}
	}
	return above
}

// leads returns for each of several groups of the same people the share of bootstrap
// samples in which its pooled F1 of a class is the highest. Samples without an F1 are
// left out.
func (o *Options) leads(groups []*group, class Class) []Ratio {
	n := len(groups)
	joint := &clusters{columns: n * countColumns}
	joint.grow(groups[0].people())
	for person := range joint.people() {
		for i, g := range groups {
			copy(joint.row(person)[i*countColumns:], g.row(person)[:countColumns])
		}
	}
	shares, samples := make([]float64, n), 0.0
	if joint.people() > 1 {
		f1 := o.resample(joint, n, func(f, totals []float64) {
			for i := range f {
				f[i] = float64(countsIn(totals[i*countColumns:]).of(class).f1())
			}
		})
		sample := make([]float64, n)
		for k := range o.Resamples {
			for i := range sample {
				sample[i] = f1[i][k]
			}
			if share(shares, sample) {
				samples++
			}
		}
	}
	leads := make([]Ratio, n)
	for i := range leads {
		leads[i] = ratio(shares[i], samples)
	}
	return leads
}

// share divides 1 among the highest of some values and adds it to their shares. It
// returns false if all are NaN.
func share(shares, values []float64) bool {
	first, ties := math.Inf(-1), 0.0
	for _, v := range values {
		switch {
		case v > first:
			first, ties = v, 1
		case v == first:
			ties++
		}
	}
	if ties == 0 {
		return false
	}
	for i, v := range values {
		if v == first {
			shares[i] += 1 / ties
		}
	}
	return true
}
