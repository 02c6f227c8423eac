package eval

import "slices"

// StudyLoss is the difference that a condition makes to a method: F1 under the
// condition minus F1 on the audio as it is, so that a loss is negative,
//
//	Δ = F1(condition) − F1(as it is)
//
// of the same recordings: once pooled over events and once as mean over people. Both
// come with the interval of a bootstrap that draws the same people for both. The test
// is Wilcoxon's, over people, of what the mean is of; p is adjusted after Holm over
// the conditions of the method in its column. All this is what [CompareAgainst] says
// of a pair of runs.
type StudyLoss struct {
	Column    string     `json:"column"`
	Method    string     `json:"method"`
	Condition string     `json:"condition"`
	Pooled    Difference `json:"pooled"`
	PerPerson Difference `json:"mean_over_people"`
	Test      SignedRank `json:"wilcoxon"`
	AdjustedP Ratio      `json:"adjusted_p"`
	Shown     bool       `json:"shown"`            // the data support a change: the interval of the mean and the test agree
	Effective float64    `json:"effective_people"` // whose errors differ; the intervals rest on them
}

// studyLosses returns the losses of a method under each condition of a column. known is
// false where there are conditions, but no scores of the audio as it is.
func (o *Options) studyLosses(runs []StudyRun, groups []*group, method string) (list []StudyLoss, known bool) {
	var same []Run // of the method
	var its []*group
	var conditions []string
	for i := range runs {
		if r := &runs[i]; r.Name == method {
			same, its, conditions = append(same, r.Run), append(its, groups[i]), append(conditions, r.Condition)
		}
	}
	clean := slices.Index(conditions, "")
	var pairs [][2]int
	for i := range conditions {
		if i != clean {
			pairs = append(pairs, [2]int{clean, i})
		}
	}
	switch {
	case len(pairs) == 0:
		return nil, true
	case clean < 0:
		return nil, false
	}
	class := same[0].Results.rules.reported()[0]
	for i, p := range o.pairs(same, its, pairs, []Class{class}) {
		at := pairs[i][1]
		pooled, mean := *p.difference(class, Pooled), *p.difference(class, PerPerson)
		pooled.Intervals, mean.Intervals = nil, nil
		list = append(list, StudyLoss{
			Column: runs[0].Column, Method: method, Condition: conditions[at],
			Pooled: pooled, PerPerson: mean,
			Test: p.Test, AdjustedP: p.AdjustedP, Shown: p.Better != "", Effective: effectivePeople(its[clean].errorsApart(its[at])),
		})
	}
	return list, true
}
