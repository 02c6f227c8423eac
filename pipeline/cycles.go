package pipeline

import (
	"fmt"
	"slices"

	"phonocycle/features"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
)

// cyclesOutput is the table cycles, with one row per cardiac cycle. It extracts
// the features of the cycles and of the recording.
type cyclesOutput struct{ *partTable[table.Cycle] }

func newCycles(run *setup.Run) (output, error) {
	return &cyclesOutput{newPartTable(run, slices.Concat(run.Labels, ColumnsOf(features.CycleFeatures())), writeCycles)}, nil
}

func (*cyclesOutput) newMeasure() func(*result) (any, error) {
	extractor := features.NewExtractor()
	return func(r *result) (any, error) {
		f, err := extractor.Extract(features.Input{
			Raw: r.loaded.Clip.Samples, RawRate: r.loaded.Clip.Rate, Wave: r.loaded.Waveform, Intervals: r.Intervals,
		})
		if err != nil {
			return nil, fmt.Errorf("features: %w", err)
		}
		r.features = &f
		return nil, nil
	}
}

// writeCycles writes the cycles of a recording.
func writeCycles(r *result, _ any, add func(table.Cycle, table.DynamicValues) error) error {
	if r.features == nil {
		return nil
	}
	row := &r.row
	for i, c := range r.features.Cycles {
		err := add(table.Cycle{
			Recording: row.Recording, DataSet: row.DataSet, Person: row.Person, Site: row.Site, Fold: row.Fold,
			Origin: row.SegmentationSource, Method: row.Method, ModelDigest: row.ModelDigest,
			PersonInTrainingData: row.PersonInTrainingData, Index: int32(i),
			Start: c.At[0], S1End: c.At[1], S2Start: c.At[2], S2End: c.At[3], End: c.At[4],
		}, table.DynamicValues{Labels: r.labels, Floats: c.Values})
		if err != nil {
			return err
		}
	}
	return nil
}
