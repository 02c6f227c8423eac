package pipeline

import (
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// newStates makes the output of the table states, with one row per interval of
// a state: first those predicted, then those of the reference.
func newStates(j *job) (output, error) {
	return newPartTable(j, nil, func(r *result, _ any, add func(table.State, table.DynamicValues) error) error {
		rows := table.IntervalStates(r.row.Recording, table.Predicted, r.intervals)
		if r.reference.Kind == pcg.PointReference {
			rows = append(rows, table.PointStates(r.row.Recording, table.Reference, r.reference.Points)...)
		} else {
			rows = append(rows, table.IntervalStates(r.row.Recording, table.Reference, r.reference.Intervals)...)
		}
		for _, row := range rows {
			if err := add(row, table.DynamicValues{}); err != nil {
				return err
			}
		}
		return nil
	}), nil
}
