package report

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// pageData is what the script of the page reads: its recordings, and the names and
// values that they share. It stands in the page as JSON, in which the template
// escapes what could end it.
type pageData struct {
	Tracks     []string        `json:"tracks"` // the reference first
	Labels     []labelData     `json:"labels"` // of the map and the filters
	GroupBy    string          `json:"groupBy"`
	TraceStep  float64         `json:"traceStep"` // in seconds
	Reasons    []string        `json:"reasons"`   // of the audit that some recording has
	Groups     []groupData     `json:"groups"`
	Recordings []recordingData `json:"recordings"`
}

// labelData is a label with the values that recordings have, in the order in which
// they are shown.
type labelData struct {
	Name   string   `json:"name"`
	Values []string `json:"values"`
}

// groupData is a group of chosen recordings, by their positions.
type groupData struct {
	Title      string `json:"title"`
	Recordings []int  `json:"recordings"`
}

// recordingData is a recording. Without its sound and its names it has at most 2 kB.
type recordingData struct {
	ID        string    `json:"id"`
	Person    string    `json:"person"`
	Labels    []int     `json:"labels"` // positions among the values of each label, −1 for none
	F1        *float64  `json:"f1,omitempty"`
	TP        int       `json:"tp"`
	FP        int       `json:"fp"`
	FN        int       `json:"fn"`
	Status    string    `json:"status"`
	Reason    string    `json:"reason,omitempty"`
	Exchanged bool      `json:"exchanged,omitempty"`
	Rates     []float64 `json:"rates,omitempty"` // beats per minute, reference and predicted
	Audit     []audited `json:"audit,omitempty"`

	From    float64      `json:"from"` // of the section, in seconds
	To      float64      `json:"to"`
	States  []string     `json:"states"` // of each track, as View.outline gives them
	Trace   string       `json:"trace,omitempty"`
	Audio   template.URL `json:"audio,omitempty"`
	Article string       `json:"article,omitempty"` // id of the element of a chosen recording
}

// audited is a finding of the audit: the position of its reason and its evidence.
type audited struct {
	Reason   int    `json:"reason"`
	Evidence string `json:"evidence"`
}

// Values that a label of the map can have: fewer divide nothing, and of more nobody
// sees the groups.
const minValues, maxValues = 2, 12

// data returns what the script reads.
func (p *Page) data() *pageData {
	labels := p.groupLabels()
	d := &pageData{
		Tracks: []string{"reference"}, Labels: labels, GroupBy: p.widestLabel(labels),
		TraceStep: traceStep.Seconds(), Groups: []groupData{}, Recordings: []recordingData{}, Reasons: []string{},
	}
	for _, r := range p.Runs {
		d.Tracks = append(d.Tracks, r.Name)
	}
	for _, g := range p.Groups {
		d.Groups = append(d.Groups, groupData{g.Title, g.Recordings})
	}
	findings := make(map[string][]audited)
	if p.Audit != nil {
		for _, reason := range p.Audit.Reasons() {
			d.Reasons = append(d.Reasons, reason.String())
		}
		for _, f := range p.Audit.Findings {
			findings[f.Recording] = append(findings[f.Recording], audited{slices.Index(d.Reasons, f.Reason.String()), f.Evidence})
		}
	}
	for i := range p.Recordings {
		r := recordingDataOf(&p.Recordings[i], d.Labels)
		r.Audit = findings[r.ID]
		d.Recordings = append(d.Recordings, r)
	}
	return d
}

// recordingDataOf returns the data of a recording.
func recordingDataOf(r *Recording, labels []labelData) recordingData {
	d := recordingData{
		ID: r.Recording, Person: r.Person, Labels: make([]int, len(labels)), Status: eval.Excluded.String(), Reason: r.Reason,
		From: r.From.Seconds(), Audio: r.audio, Article: r.id, Trace: base64.StdEncoding.EncodeToString(r.envelope),
	}
	for k, label := range labels {
		d.Labels[k] = slices.Index(label.Values, valueOf(r.Labels, label.Name))
	}
	if s := r.Score; s != nil {
		d.TP, d.FP, d.FN, d.Exchanged, d.Status = s.TP, s.FP, s.FN, s.Exchanged, eval.Scored.String()
		if s.Failed {
			d.Status = eval.Failed.String()
		}
		if f := s.F1(); !f.Null() {
			percent := math.Round(1e4*float64(f)) / 100
			d.F1 = &percent
		}
		if s.Reference.CycleLength > 0 && s.Predicted.CycleLength > 0 {
			d.Rates = []float64{math.Round(float64(s.Reference.Rate())), math.Round(float64(s.Predicted.Rate()))}
		}
	}
	states, to := r.outline()
	d.States, d.To = states, to.Seconds()
	return d
}

// valueOf returns the value of a label, empty where there is none.
func valueOf(labels []pcg.Label, name string) string {
	for _, l := range labels {
		if l.Name == name {
			return l.Value
		}
	}
	return ""
}

// groupLabels returns the labels by which the map can group recordings, with their
// values in the order of the summary and then as they occur.
func (p *Page) groupLabels() []labelData {
	labels := []labelData{}
	add := func(name, value string) {
		i := slices.IndexFunc(labels, func(l labelData) bool { return l.Name == name })
		if i < 0 {
			i = len(labels)
			labels = append(labels, labelData{Name: name})
		}
		if !slices.Contains(labels[i].Values, value) && len(labels[i].Values) <= maxValues {
			labels[i].Values = append(labels[i].Values, value)
		}
	}
	for _, row := range p.Runs[0].Summary.Scores.Strata() {
		name, value := row.Label()
		add(name, value)
	}
	for i := range p.Recordings {
		for _, l := range p.Recordings[i].Labels {
			add(l.Name, l.Value)
		}
	}
	return slices.DeleteFunc(labels, func(l labelData) bool { return len(l.Values) < minValues || len(l.Values) > maxValues })
}

// widestLabel returns that of the labels in the chart of strata whose values differ most
// in F1, empty where there is none: the map is first grouped by it.
func (p *Page) widestLabel(labels []labelData) string {
	widest, name := 0.0, ""
	for _, g := range chartedStrata(p.Runs[0].Summary) {
		low, high := math.Inf(1), math.Inf(-1)
		for _, r := range g.rows {
			low, high = min(low, float64(r.F1)), max(high, float64(r.F1))
		}
		if high-low > widest && slices.ContainsFunc(labels, func(l labelData) bool { return l.Name == g.label }) {
			widest, name = high-low, g.label
		}
	}
	return name
}

// chosen gives the chosen recordings their ids, and returns them in the order of the
// page: each in the first group that has it.
func (p *Page) chosen() (groups [][]*Recording) {
	for i := range p.Recordings {
		p.Recordings[i].id = ""
	}
	for i, g := range p.Groups {
		var list []*Recording
		for j, at := range g.Recordings {
			if r := &p.Recordings[at]; r.id == "" {
				r.id = fmt.Sprintf("recording-%d-%d", i+1, j+1)
				list = append(list, r)
			}
		}
		groups = append(groups, list)
	}
	return groups
}
