package pipeline

import (
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
)

// newStates makes the output of the table states, with one row per interval of
// a state: first those predicted, then those of the reference.
func newStates(run *setup.Run) (output, error) {
	return newPartTable(run, nil, func(r *result, _ any, add func(table.State, table.DynamicValues) error) error {
		rows := table.IntervalStates(r.row.Recording, table.Predicted, r.Intervals)
		rows = append(rows, table.PointStates(r.row.Recording, table.Predicted, r.Points)...)
		rows = append(rows, table.ReferenceStates(r.row.Recording, &r.reference)...)
		for _, row := range rows {
			if err := add(row, table.DynamicValues{}); err != nil {
				return err
			}
		}
		return nil
	}), nil
}
