package pipeline

import (
	"context"

	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// output is what a stage writes of its recordings: a table, or tables that are
// written together. To add an output, write one file and name its constructor
// in the list of stages.
//
// Results come in the order of recordings, part by part. An output that needs
// all recordings, such as the scores, is whole when every part is made in this
// execution; else it reads what it needs from the tables in finish.
type output interface {
	// names are the folders and files that the output writes.
	names() []string

	// parts are the tables that are written part by part and that a shard must
	// have written for each of its parts.
	parts() []table.Parts

	// begin prepares the output for parts. whole says that all recordings of the
	// run will pass.
	begin(whole bool) error

	// open begins a part, in place of one that an interrupted run has left. It
	// may return nil where the output writes nothing part by part.
	open(part int) (partFile, error)

	// finish completes the output when all parts are there, and adds to the
	// report.
	finish(context.Context, *rundir.Report, workers.Progress) error

	// abort removes what is not complete.
	abort()
}

// newOutput makes an output of a run, whose plan is sealed.
type newOutput func(*setup.Run) (output, error)

// partFile is one part of an output.
type partFile interface {
	// append writes what the output has of a recording, given the value that its
	// measure or score returned.
	append(r *result, value any) error

	Seal() error   // complete the content
	Commit() error // give it its name
	Abort() error
}

// measurer is an output that computes a value of each recording on the workers.
// An error fails the recording.
type measurer interface {
	newMeasure() func(*result) (any, error)
}

// scorer is an output that computes a value of each recording on the workers
// after it is known whether the recording has failed.
type scorer interface {
	newScore() func(*result) any
}

// partTable is an output that consists of one table, of which each recording
// gives some rows. The other outputs build upon it.
type partTable[T table.Row] struct {
	dir     string // the output folder
	columns []table.Column
	meta    table.Metadata
	rows    func(r *result, value any, add func(T, table.DynamicValues) error) error

	format *table.Format[T]
}

func newPartTable[T table.Row](run *setup.Run, columns []table.Column, rows func(*result, any, func(T, table.DynamicValues) error) error) *partTable[T] {
	return &partTable[T]{dir: run.Config.Out, columns: columns, meta: run.Plan.Metadata(), rows: rows}
}

func (t *partTable[T]) files() table.Parts { return table.PartsOf[T](t.dir) }

func (t *partTable[T]) names() []string {
	var row T
	return []string{row.Table().Name}
}

func (t *partTable[T]) parts() []table.Parts { return []table.Parts{t.files()} }

func (t *partTable[T]) begin(bool) (err error) {
	if t.format, err = table.NewFormat[T](t.columns, t.meta); err != nil {
		return err
	}
	return t.files().Make()
}

func (t *partTable[T]) open(part int) (partFile, error) {
	if err := t.files().Remove(part); err != nil {
		return nil, err
	}
	w, err := t.format.Create(t.files().Path(part))
	if err != nil {
		return nil, err
	}
	return &partTableFile[T]{w, t.rows}, nil
}

func (t *partTable[T]) finish(context.Context, *rundir.Report, workers.Progress) error { return nil }

func (t *partTable[T]) abort() {}

// partTableFile is one part of a partTable.
type partTableFile[T table.Row] struct {
	*table.Writer[T]
	rows func(r *result, value any, add func(T, table.DynamicValues) error) error
}

func (f *partTableFile[T]) append(r *result, value any) error { return f.rows(r, value, f.Append) }

// sibling is a sealed file of the same part as a file of recordings.
type sibling interface {
	addTo(recordings *partTableFile[table.Recording]) error
}

func (f *partTableFile[T]) addTo(recordings *partTableFile[table.Recording]) error {
	var row T
	return recordings.AddSibling(row.Table().Name, f.Digest())
}
