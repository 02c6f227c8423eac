package eval

import (
	"math"
	"slices"
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

// StudyCell is what a study says of a cell.
type StudyCell struct {
	ID         string           `json:"cell"`
	Column     string           `json:"column"`
	Method     string           `json:"method"`
	Condition  string           `json:"condition"`
	Digest     string           `json:"digest"` // of the plan
	Counts     Counts           `json:"counts"` // without reasons, which the folder of the cell has
	Errors     StudyErrors      `json:"errors"`
	Provenance Provenance       `json:"provenance"` // with options where the audio is as it is
	Headline   Scores           `json:"headline"`   // all classes and averages; first that of the headline, pooled
	Sweep      []ToleranceSweep `json:"sweep"`      // pooled, by anchor and class; where the audio was changed, those of the headline

	// Of the audio as it is.
	Strata Scores           `json:"strata,omitempty"` // class of the headline, pooled
	Cycles Cycles           `json:"cycles,omitzero"`
	Frames FrameSummary     `json:"frames,omitzero"`
	Rates  []StudyAgreement `json:"rates,omitempty"`

	Cost Ratio `json:"-"` // processor seconds that segmenting an hour of audio takes
}

// ToleranceSweep holds pooled ratios of a class at an anchor, one for each tolerance
// of the rules of the column. Low and High bound F1 as those of a [Score] do.
type ToleranceSweep struct {
	Anchor    Anchor  `json:"anchor"`
	Class     Class   `json:"class"`
	Recall    []Ratio `json:"recall"`
	Precision []Ratio `json:"precision"`
	F1        []Ratio `json:"f1"`
	Low       []Ratio `json:"low"`
	High      []Ratio `json:"high"`
}

// StudyAgreement is an [Agreement] without its intervals.
type StudyAgreement struct {
	Quantity   string `json:"quantity"`
	Unit       string `json:"unit"`
	Recordings int    `json:"recordings"`
	People     int    `json:"people"`
	Bias       Ratio  `json:"bias"`
	SD         Ratio  `json:"sd"`
	Lower      Ratio  `json:"lower_limit"`
	Upper      Ratio  `json:"upper_limit"`
}

// brief returns the agreements without their intervals.
func (r Rates) brief() []StudyAgreement {
	var list []StudyAgreement
	for _, a := range r {
		list = append(list, StudyAgreement{a.Quantity, a.Unit, a.Recordings, a.People, a.Bias, a.SD, a.Lower, a.Upper})
	}
	return list
}

// columnOf says what the runs of a column share.
func columnOf(name string, first *Run, g *group) OverviewColumn {
	return OverviewColumn{
		Name: name, DataSet: first.DataSet, Version: first.Version, Selection: first.Provenance.selection(),
		Rules: first.Results.rules.summary(), People: g.people(), Recordings: g.recordings,
	}
}

// brief returns the rows with the intervals of F1 alone.
func (s Scores) brief() Scores {
	rows := slices.Clone(s)
	for i := range rows {
		rows[i].Intervals, rows[i].Wilson, rows[i].MeanOver = nil, nil, nil
	}
	return rows
}

// sweepOf turns rows of one anchor and class, by tolerance, into columns, rounded to a
// millionth.
func sweepOf(rows Scores) ToleranceSweep {
	s := ToleranceSweep{Anchor: rows[0].Anchor, Class: rows[0].Class}
	for i := range rows {
		r := &rows[i]
		s.Recall, s.Precision, s.F1 = append(s.Recall, rounded(r.Recall)), append(s.Precision, rounded(r.Precision)), append(s.F1, rounded(r.F1))
		s.Low, s.High = append(s.Low, rounded(r.Low)), append(s.High, rounded(r.High))
	}
	return s
}

func rounded(r Ratio) Ratio { return Ratio(math.Round(1e6*float64(r)) / 1e6) }

// Score returns the score of the headline, pooled.
func (c *StudyCell) Score() *Score { return &c.Headline[0] }
