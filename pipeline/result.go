package pipeline

import (
	"phonocycle/features"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/table"
)

// result is what one recording gives.
type result struct {
	row    table.Recording
	labels []string // values of the labels, in the order of the columns
	source.States
	reference pcg.Reference
	features  *features.Features // nil where none were extracted
	values    []any              // what the outputs computed, by their place
	stop      error              // why the run cannot go on
	needs     int64              // memory in bytes, where there was not enough

	loaded corpus.Loaded // only while a worker has the recording
}

// newResult returns the result of a recording as far as it is known before its
// audio is read.
func newResult(run *setup.Run, e *corpus.Entry, outputs int) *result {
	return &result{row: run.Describe(e), labels: run.Corpus.Labels(e, run.Labels), values: make([]any, outputs)}
}

// fail makes the recording one without results.
func (r *result) fail(err error) {
	corpus.Fail(&r.row, err)
	r.States, r.features = source.States{}, nil
	clear(r.values)
}
