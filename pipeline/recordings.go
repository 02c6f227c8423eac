package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"math"
	"slices"

	"phonocycle/features"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// recordingsOutput is the table recordings, with one row per recording. It
// counts the recordings and their outcomes, and digests the digests of their
// audio.
type recordingsOutput struct {
	*partTable[table.Recording]
	whole   bool
	counted rundir.Report
	inputs  hash.Hash
}

func newRecordings(run *setup.Run) (output, error) { return recordingsWith(run, nil), nil }

// newMeasuredRecordings is newRecordings with the features of the recordings.
func newMeasuredRecordings(run *setup.Run) (output, error) {
	return recordingsWith(run, ColumnsOf(features.RecordingFeatures())), nil
}

func recordingsWith(run *setup.Run, measured []table.Column) *recordingsOutput {
	o := &recordingsOutput{inputs: sha256.New()}
	o.partTable = newPartTable(run, slices.Concat(run.Labels, measured), func(r *result, _ any, add func(table.Recording, table.DynamicValues) error) error {
		corpus.BoundTexts(&r.row)
		if err := o.counted.Add(&r.row, o.inputs); err != nil {
			return err
		}
		return add(r.row, r.cells(len(measured)))
	})
	return o
}

func (o *recordingsOutput) begin(whole bool) error {
	o.whole = whole
	return o.partTable.begin(whole)
}

func (o *recordingsOutput) finish(_ context.Context, report *rundir.Report, _ workers.Progress) error {
	if !o.whole {
		o.counted = rundir.Report{}
		o.inputs.Reset()
		if err := o.counted.AddTable(o.dir, o.inputs); err != nil {
			return err
		}
	}
	report.Counts, report.Problems = o.counted.Counts, o.counted.Problems
	report.InputDigest = hex.EncodeToString(o.inputs.Sum(nil))
	return nil
}

// cells returns the dynamic values of the row of a recording: its labels and
// features, of which there are width.
func (r *result) cells(width int) table.DynamicValues {
	cells := table.DynamicValues{Labels: r.labels}
	if r.features != nil {
		cells.Floats = r.features.Recording
	} else if width > 0 {
		cells.Floats = slices.Repeat([]float64{math.NaN()}, width)
	}
	return cells
}

// ColumnsOf turns rows of the catalogue into columns.
func ColumnsOf(list []features.Feature) []table.Column {
	columns := make([]table.Column, len(list))
	for i, f := range list {
		columns[i] = table.Column{
			Name: f.Name, Unit: f.Unit, Doc: f.Definition, Source: f.Source, Range: f.Range, Null: f.Null, Kind: table.Float,
		}
	}
	return columns
}
