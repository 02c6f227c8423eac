package scoring

import (
	"fmt"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// ReasonOverlap is why a recording of a person of the training data is left out
// of the scores.
const ReasonOverlap = "the method was fitted on recordings of this person"

// Subject is a recording as it enters the scores: its row, its labels and the
// states that are compared.
type Subject struct {
	Row       *table.Recording
	Labels    []string // values of the labels
	Predicted []pcg.Interval
	Reference pcg.Reference

	PredictedPoints []pcg.Point // where the row says that points are predicted
}

// Case returns the subject as a case to score. names are those of the labels. A
// person of the training data is refused, loses the reference or is scored, as overlap
// says; an empty overlap leaves the case as it is, for those who do not score.
func (s *Subject) Case(names []string, overlap config.Overlap) (eval.Case, error) {
	row := s.Row
	c := eval.Case{
		Recording: row.Recording, Person: row.Person,
		Failed: row.Outcome != table.Done, Reason: row.Reason,
		Predicted: s.Predicted, PredictsPoints: row.SegmentationKind == table.Points, PredictedPoints: s.PredictedPoints,
		Reference: pcg.Reference{
			Kind: pcg.ReferenceKind(row.ReferenceKind), Intervals: s.Reference.Intervals, Points: s.Reference.Points, Unannotated: s.Reference.Unannotated,
		},
	}
	if row.Outcome == table.Done {
		c.Reason = row.ReferenceNote
	}
	if row.Duration != nil {
		c.Length = *row.Duration
	}
	c.Strata = append(c.Strata, pcg.Label{Name: eval.ByDataSet, Value: row.DataSet}, pcg.Label{Name: eval.BySite, Value: row.Site})
	for i, name := range names {
		c.Strata = append(c.Strata, pcg.Label{Name: name, Value: s.Labels[i]})
	}
	if row.PersonInTrainingData == nil || !*row.PersonInTrainingData || overlap == config.ScoreOverlap {
		return c, nil
	}
	c.Reason = ReasonOverlap
	if overlap == config.RefuseOverlap && !c.Reference.Empty() {
		return c, fmt.Errorf("recording %s: person %s is among those that the method was fitted on: a score says nothing about others; "+
			"leave such people out of the scores with --training-overlap leave-out", row.Recording, c.Person)
	}
	if overlap == config.LeaveOutOverlap {
		c.Reference.Intervals, c.Reference.Points, c.Reference.Unannotated = nil, nil, nil
	}
	return c, nil
}

// Cases reads one part of the tables recordings and states of folder dir as
// cases to score.
func Cases(dir string, part int, overlap config.Overlap) ([]eval.Case, error) {
	reader, err := table.OpenWithout[table.Recording](table.Float, table.PartsOf[table.Recording](dir).Path(part))
	if err != nil {
		return nil, err
	}
	names := LabelNames(reader.Columns())
	var subjects []Subject
	index := map[string]int{}
	for record, err := range reader.Rows() {
		if err != nil {
			return nil, err
		}
		row := record.Row
		index[row.Recording] = len(subjects)
		subjects = append(subjects, Subject{Row: &row, Labels: slices.Clone(record.Values.Labels)})
	}
	path := table.PartsOf[table.State](dir).Path(part)
	for row, err := range table.Read[table.State](path) {
		if err != nil {
			return nil, err
		}
		i, ok := index[row.Recording]
		if !ok {
			return nil, fmt.Errorf("%s: recording %s is not in the recordings table of the same part", path, row.Recording)
		}
		if err := subjects[i].add(&row); err != nil {
			return nil, err
		}
	}
	cases := make([]eval.Case, len(subjects))
	for i := range subjects {
		if cases[i], err = subjects[i].Case(names, overlap); err != nil {
			return nil, err
		}
	}
	return cases, nil
}

// add adds a row of the states table.
func (s *Subject) add(row *table.State) error {
	iv, err := row.Interval()
	if err != nil {
		return err
	}
	switch {
	case row.Origin == table.Predicted && row.IsPoint():
		s.PredictedPoints = append(s.PredictedPoints, pcg.Point{At: iv.Start, Sound: iv.State})
	case row.Origin == table.Predicted:
		s.Predicted = append(s.Predicted, iv)
	case row.IsUnannotated():
		s.Reference.Unannotated = append(s.Reference.Unannotated, iv)
	case row.IsPoint():
		s.Reference.Points = append(s.Reference.Points, pcg.Point{At: iv.Start, Sound: iv.State})
	default:
		s.Reference.Intervals = append(s.Reference.Intervals, iv)
	}
	return nil
}

// LabelNames returns the names of the label columns among dynamic ones.
func LabelNames(columns []table.Column) []string {
	var names []string
	for _, c := range columns {
		if c.Kind == table.Category {
			names = append(names, c.Name)
		}
	}
	return names
}
