package eval

import "fmt"

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

// NewStudy makes a study of the cells that are done and of those that are not, in any
// order. A run with other recordings or rules than those of its column, and a cell
// that the header does not name, are refused. Options other than resamples and seed have
// no effect, and these are for pairs and losses; scores have the intervals of the options of
// their runs, and ranks follow those of the first.
func NewStudy(h StudyHeader, runs []StudyRun, faults []StudyFault, o Options) (*Study, error) {
	if err := CheckResamples(o.Resamples); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	b := newStudyBuilder(h, o)
	if err := b.sort(runs, faults); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	for _, column := range h.Columns {
		if err := b.addColumn(column); err != nil {
			return nil, fmt.Errorf("study: %w", err)
		}
	}
	b.warn()
	return b.Study, nil
}
