package pipeline

import (
	"errors"
	"math"

	"phonocycle/pipeline/table"
)

// partWriter writes the rows of recordings, which come in order, into the part
// files of each table. A part is committed while the next one is filled, so that
// nobody waits for the disk; one commit goes on at a time, so that no part is
// whole before the one that precedes it.
type partWriter struct {
	job        *job
	formats    formats
	tally      *tally // of all recordings; nil where some parts are there
	parts      []int  // that have not begun
	incomplete int    // parts that are not whole

	part       *partTables // under way
	committing chan error  // tells how the commit of the part before ended; nil where none goes on
}

// formats are those of the tables that a job writes part by part, nil for the
// tables that it does not write.
type formats struct {
	recordings *table.Format[table.Recording]
	states     *table.Format[table.State]
	cycles     *table.Format[table.Cycle]
	windows    *table.Format[table.Window]
}

func (j *job) newFormats() (f formats, err error) {
	meta := j.plan.metadata()
	if f.recordings, err = table.NewFormat[table.Recording](j.summary, meta); err != nil {
		return f, err
	}
	if j.writesStates() {
		if f.states, err = table.NewFormat[table.State](nil, meta); err != nil {
			return f, err
		}
	}
	if j.extracts {
		if f.cycles, err = table.NewFormat[table.Cycle](j.measured, meta); err != nil {
			return f, err
		}
	}
	if j.cuts {
		f.windows, err = table.NewFormat[table.Window](j.windowColumns(), meta)
	}
	return f, err
}

// begin prepares the folders and the first part.
func (w *partWriter) begin() (err error) {
	if w.formats, err = w.job.newFormats(); err != nil {
		return err
	}
	for _, f := range w.job.folders() {
		if err := f.Make(); err != nil {
			return err
		}
	}
	if w.job.config.Shard.Of == 0 { // other shards may be writing there
		if err := w.job.removeTemporary(); err != nil {
			return err
		}
	}
	return w.open()
}

// folders returns the folders of the tables that the job writes part by part,
// that of the recordings first.
func (j *job) folders() []table.Parts {
	out := j.config.Out
	folders := []table.Parts{table.PartsOf[table.Recording](out)}
	if j.writesStates() {
		folders = append(folders, table.PartsOf[table.State](out))
	}
	if j.extracts {
		folders = append(folders, table.PartsOf[table.Cycle](out))
	}
	if j.cuts {
		folders = append(folders, table.PartsOf[table.Window](out))
	}
	return folders
}

// removeTemporary removes what killed runs left unfinished, among the parts and
// beside them.
func (j *job) removeTemporary() error {
	for _, f := range append(j.folders(), table.Parts{Dir: j.config.Out}) {
		if _, err := f.RemoveTemporary(); err != nil {
			return err
		}
	}
	return nil
}

// open begins the next part, if there is one. A part without recordings, as of an
// empty data set, is written at once.
func (w *partWriter) open() (err error) {
	if len(w.parts) == 0 {
		return nil
	}
	w.part, err = w.job.openPart(w.parts[0], &w.formats, w.tally)
	if err != nil {
		return err
	}
	w.parts = w.parts[1:]
	if w.part.left == 0 {
		return w.commit()
	}
	return nil
}

// write adds the rows of the next recording and commits the part with its last.
func (w *partWriter) write(o output) error {
	if len(w.committing) > 0 {
		if err := w.settle(); err != nil {
			return err
		}
	}
	cells := table.Cells{Labels: o.labels}
	if w.job.extracts {
		if cells.Floats = o.features; cells.Floats == nil {
			cells.Floats = nulls(len(w.job.summary) - len(w.job.labels))
		}
	}
	if err := w.part.write(&o, cells); err != nil {
		return err
	}
	if err := w.tally.add(&o, cells); err != nil {
		return err
	}
	if w.part.left > 0 {
		return nil
	}
	return w.commit()
}

// commit begins to commit the part under way, and opens the next.
func (w *partWriter) commit() error {
	if err := w.settle(); err != nil {
		return err
	}
	part, done := w.part, make(chan error, 1)
	beside := func() error { return nil }
	if len(w.parts) == 0 && w.tally != nil {
		beside = w.tally.finishPeople
	}
	w.part, w.committing = nil, done
	go func() { done <- part.commit(beside) }()
	return w.open()
}

// settle waits for the commit that goes on, if one does.
func (w *partWriter) settle() error {
	if w.committing == nil {
		return nil
	}
	err := <-w.committing
	w.committing = nil
	if err == nil {
		w.incomplete--
	}
	return err
}

// end makes sure that every part was completed.
func (w *partWriter) end() error {
	if w.incomplete > 0 {
		return errors.New("the run ended before its last part")
	}
	return nil
}

// abort removes what was begun.
func (w *partWriter) abort() {
	if w.part != nil {
		w.part.abort()
	}
	w.tally.abort()
}

// nulls returns n missing values.
func nulls(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.NaN()
	}
	return x
}
