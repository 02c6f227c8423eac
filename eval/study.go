package eval

import "slices"

// Study is the outcome of a study: the scores of methods by several designs, on audio
// as it is and changed. Undefined figures are null. The same tables give the same
// JSON: what segmenting cost is not in it.
type Study struct {
	Header    StudyHeader      `json:"study"`
	Columns   []OverviewColumn `json:"columns"`
	Cells     []StudyCell      `json:"cells"` // by column, condition and method, in the order of the header
	Pairs     []StudyPair      `json:"pairs"`
	Losses    []StudyLoss      `json:"losses"`
	Ranks     []StudyRank      `json:"ranks"`
	FailBelow Ratio            `json:"fails_below"` // F1 of a recording below which a method fails on it
	Failing   []StudyRecording `json:"all_methods_fail_on"`
	Faults    []StudyFault     `json:"faults"`
	Warnings  []string         `json:"warnings"`

	Resamples           int     `json:"resamples"`            // for the scores and the ranks
	DifferenceResamples int     `json:"difference_resamples"` // for pairs and losses
	Seed                uint64  `json:"seed"`                 // of pairs and losses
	Confidence          float64 `json:"confidence"`
}

// Cell returns the cell of a method in a column under a condition; nil where it has no
// scores.
func (s *Study) Cell(column, method, condition string) *StudyCell {
	i := slices.IndexFunc(s.Cells, func(c StudyCell) bool { return c.Column == column && c.Method == method && c.Condition == condition })
	if i < 0 {
		return nil
	}
	return &s.Cells[i]
}

// In returns the study of one column alone.
func (s *Study) In(column string) *Study {
	one := *s
	one.Columns = filter(s.Columns, func(c *OverviewColumn) bool { return c.Name == column })
	one.Cells = filter(s.Cells, func(c *StudyCell) bool { return c.Column == column })
	one.Pairs = filter(s.Pairs, func(p *StudyPair) bool { return p.Column == column })
	one.Losses = filter(s.Losses, func(l *StudyLoss) bool { return l.Column == column })
	one.Ranks = filter(s.Ranks, func(r *StudyRank) bool { return r.Column == column })
	one.Failing = filter(s.Failing, func(r *StudyRecording) bool { return r.Column == column })
	one.Faults = filter(s.Faults, func(f *StudyFault) bool { return f.Column == column })
	return &one
}

// filter returns the elements of a list that are to be kept.
func filter[T any](list []T, keep func(*T) bool) []T {
	var kept []T
	for i := range list {
		if keep(&list[i]) {
			kept = append(kept, list[i])
		}
	}
	return kept
}
