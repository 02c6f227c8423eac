package eval

import (
	"fmt"
	"slices"
	"strings"
)

// Overview gives the scores of methods over several data sets or references, side
// by side. Scores of different columns are of different recordings or by different
// rules: it has no differences and no tests.
type Overview struct {
	Methods    []string         `json:"methods"` // rows, by their names
	Columns    []OverviewColumn `json:"columns"`
	Cells      []OverviewCell   `json:"cells"` // those that there are
	Resamples  int              `json:"resamples"`
	Seed       uint64           `json:"seed"`
	Confidence float64          `json:"confidence"`
	Warnings   []string         `json:"warnings"`
}

// OverviewColumn is a data set with one of its references.
type OverviewColumn struct {
	Name       string       `json:"name,omitempty"` // of the design of a study
	DataSet    string       `json:"data_set"`
	Version    string       `json:"data_set_version,omitempty"`
	Selection  string       `json:"selection,omitempty"` // of people and recordings by lists
	Rules      RulesSummary `json:"rules"`
	People     int          `json:"people"`
	Recordings int          `json:"recordings"` // in the scores
	LeftOut    int          `json:"left_out"`   // recordings of people of the training data, which are in no score
}

// OverviewCell is the score of a method on a data set: that of the headline, pooled.
type OverviewCell struct {
	Column int `json:"column"` // position among the columns
	ComparedRun
	Score Score `json:"score"`
}

// selection names the lists to which people and recordings were restricted.
func (p *Provenance) selection() string {
	var parts []string
	if p.People != "" {
		parts = append(parts, "people "+p.People)
	}
	if p.Recordings != "" {
		parts = append(parts, "recordings "+p.Recordings)
	}
	return join(parts)
}

// NewOverview puts runs into a table of methods and data sets. columns holds the runs
// on each data set or reference, which must have the same rules and recordings. A run
// stands in the row of its name, alone in its column; anything else is refused.
func NewOverview(columns [][]Run) (*Overview, error) {
	o := &Overview{Confidence: confidence, Warnings: []string{}}
	for i, runs := range columns {
		if err := o.add(i, runs); err != nil {
			return nil, fmt.Errorf("overview: %w", err)
		}
	}
	var told []*ComparedRun
	for i := range o.Cells {
		told = append(told, &o.Cells[i].ComparedRun)
	}
	tellApart(told)
	options := columns[0][0].Results.options
	o.Resamples, o.Seed = options.Resamples, options.Seed
	if o.Resamples < minResamples {
		o.Warnings = append(o.Warnings, fewResamplesWarning(o.Resamples))
	}
	return o, nil
}

// add adds a column.
func (o *Overview) add(column int, runs []Run) error {
	if err := sameRulesAndRecordings(runs); err != nil {
		return err
	}
	first := &runs[0]
	all := first.Results.group(-1)
	c := OverviewColumn{
		DataSet: first.DataSet, Version: first.Version, Selection: first.Provenance.selection(),
		Rules: first.Results.rules.summary(), People: all.people(), Recordings: all.recordings,
	}
	for i := range runs {
		r := &runs[i]
		if o.cell(r.Name, column) != nil {
			return fmt.Errorf("two runs of %s on %s: give each a name of its own with --name", r.Name, strings.TrimSpace(c.DataSet+" "+c.Rules.Reference))
		}
		if !slices.Contains(o.Methods, r.Name) {
			o.Methods = append(o.Methods, r.Name)
		}
		g := r.Results.group(-1)
		o.Cells = append(o.Cells, OverviewCell{column, r.compared(g), r.Results.headlineRows("", g)[0]})
		if text := fewPeopleWarning("the errors", effectivePeople(g.errors()), g.people()); text != "" {
			o.Warnings = append(o.Warnings, fmt.Sprintf("%s on %s: %s", r.Name, c.DataSet, text))
		}
	}
	o.Columns = append(o.Columns, c)
	return nil
}

// cell returns the cell of a method in a column, or nil.
func (o *Overview) cell(method string, column int) *OverviewCell {
	i := slices.IndexFunc(o.Cells, func(c OverviewCell) bool { return c.Column == column && c.Name == method })
	if i < 0 {
		return nil
	}
	return &o.Cells[i]
}
