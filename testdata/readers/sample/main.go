// Command sample writes small tables of made-up recordings into a folder, for
// the examples beside it to read.
package main

import (
	"log"
	"math"
	"os"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

const ms = time.Millisecond

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: sample FOLDER")
	}
	if err := write(os.Args[1]); err != nil {
		log.Fatal(err)
	}
}

func write(root string) error {
	recordings := []string{"1001_AV", "1002_MV"}
	var states []table.State
	for i, id := range recordings {
		cycle := time.Duration(800+100*i) * ms
		for at := time.Duration(0); at < 3*cycle; at += cycle {
			states = append(states, table.IntervalStates(id, table.Predicted, []pcg.Interval{
				{Start: at, End: at + 120*ms, State: pcg.S1}, {Start: at + 120*ms, End: at + 300*ms, State: pcg.Systole},
				{Start: at + 300*ms, End: at + 400*ms, State: pcg.S2}, {Start: at + 400*ms, End: at + cycle, State: pcg.Diastole},
			})...)
		}
	}
	if err := part(root, nil, len(states), func(i int) (table.State, table.DynamicValues) { return states[i], table.DynamicValues{} }); err != nil {
		return err
	}

	scores := []table.Score{
		{Recording: "1001_AV", Person: "1001", Class: "S1", Anchor: "centre", ToleranceMS: 60, TP: 3, FP: 0, FN: 0, Precision: 1, Recall: 1, F1: 1},
		{Recording: "1002_MV", Person: "1002", Class: "S1", Anchor: "centre", ToleranceMS: 60, TP: 1, FP: 1, FN: 2, Precision: 0.5, Recall: 1. / 3, F1: 0.4},
		{Recording: "1002_MV", Person: "1002", Class: "S2", Anchor: "centre", ToleranceMS: 60, FN: 3, Precision: math.NaN(), Recall: 0, F1: 0},
	}
	if err := part(root, nil, len(scores), func(i int) (table.Score, table.DynamicValues) { return scores[i], table.DynamicValues{} }); err != nil {
		return err
	}

	columns := []table.Column{
		{Name: "systole_duration_s", Unit: "s", Doc: "end of S1 to start of S2", Kind: table.Float},
		{Name: "window", Unit: "1", Doc: "first samples of the cycle", Kind: table.FloatVector, Length: 3},
	}
	return part(root, columns, 2, func(i int) (table.Cycle, table.DynamicValues) {
		return table.Cycle{Recording: recordings[i], Person: recordings[i][:4], Origin: table.Predicted, S1End: 120 * ms, S2Start: 300 * ms, S2End: 400 * ms, End: 800 * ms},
			table.DynamicValues{Floats: []float64{[]float64{0.18, math.NaN()}[i]}, Vectors: [][]float32{{0.25, -0.5, float32(i)}}}
	})
}

// part writes n rows as the only part of their table.
func part[T table.Row](root string, columns []table.Column, n int, row func(i int) (T, table.DynamicValues)) error {
	p := table.PartsOf[T](root)
	if err := p.Make(); err != nil {
		return err
	}
	w, err := table.Create[T](p.Path(0), columns, table.Metadata{Tool: "phonocycle sample", Config: "none"})
	if err != nil {
		return err
	}
	defer w.Abort()
	for i := range n {
		r, cells := row(i)
		if err := w.Append(r, cells); err != nil {
			return err
		}
	}
	return w.Commit()
}
