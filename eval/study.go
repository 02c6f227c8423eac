package eval

import (
	"fmt"
)

// StudyHeader says what a study is of, in the order of its file.
type StudyHeader struct {
	Title      string   `json:"title"`
	Digest     string   `json:"digest"`  // of the study file
	Version    string   `json:"version"` // of the tool
	Methods    []string `json:"methods"`
	Columns    []string `json:"columns"`    // names of the designs
	Conditions []string `json:"conditions"` // canonical; empty for the audio as it is
}

// StudyRun is a cell of a study that is done: a method by a design under a condition.
type StudyRun struct {
	Run              // Name is the name of the method in the study
	Cell      string // id
	Column    string // name of the design: runs of a column have the same recordings, references and rules
	Condition string // how the audio was changed; empty for the audio as it is
	Digest    string // of the plan
}

// StudyFault is a cell without scores.
type StudyFault struct {
	Cell      string `json:"cell"`
	Method    string `json:"method"`
	Column    string `json:"column"`
	Condition string `json:"condition"`
	Reason    string `json:"reason"`
}

// Study is the outcome of a study: the scores of methods by several designs, on audio
// as it is and changed. Undefined figures are null. The same tables give the same
// JSON: what segmenting cost is not in it.
type Study struct {
	Header    StudyHeader      `json:"study"`
	Columns   []OverviewColumn `json:"columns"`
	Cells     []StudyCell      `json:"cells"` // by column, condition and method, in the order of the header
	Losses    []StudyLoss      `json:"losses"`
	Ranks     []StudyRank      `json:"ranks"`
	FailBelow Ratio            `json:"fails_below"` // F1 of a recording below which a method fails on it
	Failing   []StudyRecording `json:"all_methods_fail_on"`
	Faults    []StudyFault     `json:"faults"`
	Warnings  []string         `json:"warnings"`

	Resamples           int     `json:"resamples"`            // for the scores and the ranks
	DifferenceResamples int     `json:"difference_resamples"` // for the losses
	Seed                uint64  `json:"seed"`
	Confidence          float64 `json:"confidence"`
}

// StudyCell is what a study says of a cell.
type StudyCell struct {
	ID         string           `json:"cell"`
	Column     string           `json:"column"`
	Method     string           `json:"method"`
	Condition  string           `json:"condition"`
	Digest     string           `json:"digest"` // of the plan
	Counts     Counts           `json:"counts"`
	Provenance Provenance       `json:"provenance"`
	Headline   Scores           `json:"headline"`         // all classes and averages; first that of the headline, pooled
	Sweep      []ToleranceSweep `json:"sweep"`            // pooled, by anchor and class
	Strata     Scores           `json:"strata,omitempty"` // class of the headline, pooled; of audio as it is
	Cycles     Cycles           `json:"cycles"`
	Frames     FrameSummary     `json:"frames"`
	Rates      Rates            `json:"rates"`
	Cost       Ratio            `json:"-"` // processor seconds per hour of audio
}

// ToleranceSweep holds pooled ratios of a class at an anchor, one for each tolerance
// of the rules of the column. Low and High bound F1; they are null at other anchors
// than that of the headline.
type ToleranceSweep struct {
	Anchor    Anchor  `json:"anchor"`
	Class     Class   `json:"class"`
	Recall    []Ratio `json:"recall"`
	Precision []Ratio `json:"precision"`
	F1        []Ratio `json:"f1"`
	Low       []Ratio `json:"low"`
	High      []Ratio `json:"high"`
}

// StudyLoss is the difference that a condition makes to a method: F1 under the
// condition minus F1 on the audio as it is, of the same people.
type StudyLoss struct {
	Column    string     `json:"column"`
	Method    string     `json:"method"`
	Condition string     `json:"condition"`
	Pooled    Difference `json:"pooled"`
	PerPerson Difference `json:"mean_over_people"` // what is tested
	Test      SignedRank `json:"wilcoxon"`
	AdjustedP Ratio      `json:"adjusted_p"` // after Holm, over the conditions of the method in the column
}

// StudyRank is the place of a method among those of a column under one condition, by
// pooled F1 of the headline.
type StudyRank struct {
	Column    string `json:"column"`
	Condition string `json:"condition"`
	Method    string `json:"method"`
	F1        Ratio  `json:"f1"`
	Rank      int    `json:"rank"`  // 1 + the number of methods with a higher F1
	Leads     Ratio  `json:"leads"` // share of the bootstrap samples in which its F1 is the highest; ties are shared
}

// StudyRecording is a recording on which every method fails on the audio as it is.
type StudyRecording struct {
	Column    string  `json:"column"`
	Recording string  `json:"recording"`
	Person    string  `json:"person"`
	Best      string  `json:"best"` // method with the highest F1
	BestF1    Ratio   `json:"best_f1"`
	F1        []Ratio `json:"f1"` // by method of the header; null where the cell is missing
}

// failBelow is the F1 of a recording below which a method fails on it: more of its
// sounds are wrong than right. It follows no source.
const failBelow = 0.5

// NewStudy makes a study of the cells that are done and of those that are not, in any
// order. A run with other recordings or rules than those of its column, and a cell
// that the header does not name, are refused. Resamples and seed are those of ranks
// and losses; scores have the intervals of their own options.
func NewStudy(h StudyHeader, runs []StudyRun, faults []StudyFault, o Options) (*Study, error) {
	if err := CheckResamples(o.Resamples); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	s := &Study{
		Header: h, Columns: []OverviewColumn{}, Cells: []StudyCell{}, Losses: []StudyLoss{}, Ranks: []StudyRank{},
		FailBelow: failBelow, Failing: []StudyRecording{}, Faults: []StudyFault{}, Warnings: []string{}, Confidence: confidence,
	}
	b := studyBuilder{Study: s, options: o}
	if err := b.sort(runs, faults); err != nil {
		return nil, fmt.Errorf("study: %w", err)
	}
	for _, column := range h.Columns {
		if err := b.addColumn(column); err != nil {
			return nil, fmt.Errorf("study: %w", err)
		}
	}
	return s, nil
}
