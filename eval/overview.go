package eval

import (
	"fmt"
	"slices"
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
	DataSet    string       `json:"data_set"`
	Version    string       `json:"data_set_version,omitempty"`
	Selection  string       `json:"selection,omitempty"` // of people and recordings by lists
	Rules      RulesSummary `json:"rules"`
	People     int          `json:"people"`
	Recordings int          `json:"recordings"` // in the scores
}

// OverviewCell is the score of a method on a data set: that of the headline, pooled.
type OverviewCell struct {
	Column int `json:"column"` // position among the columns
	ComparedRun
	Score Score `json:"score"`
}

// columnKey tells the columns of an overview apart.
type columnKey struct{ dataSet, version, reference, selection string }

// key returns the column to which a run belongs.
func (r *Run) key() columnKey {
	return columnKey{r.DataSet, r.Version, r.Results.rules.Reference, r.Provenance.selection()}
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

// NewOverview puts runs over several data sets or references into a table of methods
// and data sets. A run stands in the row of its name. Runs in one column must have
// the same rules and recordings, and a row has one run in each column; anything else
// is refused.
func NewOverview(runs []Run) (*Overview, error) {
	o := &Overview{Confidence: confidence, Warnings: []string{}}
	columns := make(map[columnKey][]Run)
	var keys []columnKey
	for _, r := range runs {
		if r.Name == "" {
			return nil, fmt.Errorf("overview: a run has no name")
		}
		if !slices.Contains(o.Methods, r.Name) {
			o.Methods = append(o.Methods, r.Name)
		}
		k := r.key()
		if columns[k] == nil {
			keys = append(keys, k)
		}
		if slices.ContainsFunc(columns[k], func(other Run) bool { return other.Name == r.Name }) {
			return nil, fmt.Errorf("overview: two runs of %s on %s, reference %s: give each a name of its own with --name", r.Name, k.dataSet, k.reference)
		}
		columns[k] = append(columns[k], r)
	}
	for i, k := range keys {
		if err := o.add(i, columns[k]); err != nil {
			return nil, fmt.Errorf("overview: %w", err)
		}
	}
	if len(runs) > 0 {
		options := runs[0].Results.options
		o.Resamples, o.Seed = options.Resamples, options.Seed
	}
	if o.Resamples < minResamples {
		o.Warnings = append(o.Warnings, fewResamplesWarning(o.Resamples))
	}
	return o, nil
}

// add adds a column with the runs that belong to it.
func (o *Overview) add(column int, runs []Run) error {
	if err := sameRulesAndRecordings(runs); err != nil {
		return err
	}
	for i := range runs {
		r := &runs[i]
		g := r.Results.group(-1)
		if i == 0 {
			o.Columns = append(o.Columns, OverviewColumn{
				DataSet: r.DataSet, Version: r.Version, Selection: r.Provenance.selection(),
				Rules: r.Results.rules.summary(), People: g.people(), Recordings: g.recordings,
			})
			if g.people() < defaultMinPeople {
				o.Warnings = append(o.Warnings, fmt.Sprintf("%s: %d people are too few for an interval", r.DataSet, g.people()))
			}
		}
		o.Cells = append(o.Cells, OverviewCell{column, r.compared(g), r.Results.headlineRows("", g)[0]})
	}
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
