package eval

import (
	"bytes"
	"io"

	"phonocycle/eval/tabular"
)

// Overview returns the scores under one condition as a table of methods and columns;
// empty for the audio as it is.
func (s *Study) Overview(condition string) *Overview {
	o := &Overview{Methods: s.Header.Methods, Columns: s.Columns, Resamples: s.Resamples, Seed: s.Seed, Confidence: s.Confidence, Warnings: []string{}}
	for i := range s.Cells {
		c := &s.Cells[i]
		if c.Condition != condition {
			continue
		}
		for at := range s.Columns {
			if s.Columns[at].Name == c.Column {
				o.Cells = append(o.Cells, OverviewCell{at, c.compared(&s.Columns[at]), c.Headline[0]})
			}
		}
	}
	return o
}

// compared returns what stands beside the scores of a cell.
func (c *StudyCell) compared(column *OverviewColumn) ComparedRun {
	return ComparedRun{
		Name: c.Method, DataSet: column.DataSet, Version: column.Version, Provenance: c.Provenance,
		People: column.People, Recordings: column.Recordings, Failed: c.Counts.Failed, Cost: null(),
	}
}

// Tables returns the tables of the study.
func (s *Study) Tables() []tabular.Table {
	return []tabular.Table{s.Overview("").table()}
}

// WriteText writes s for a reader at a terminal.
func (s *Study) WriteText(w io.Writer) error {
	var b bytes.Buffer
	writeTables(&b, s.Tables())
	return writeText(w, &b, s.Warnings)
}
