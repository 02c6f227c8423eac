package pipeline

import (
	"errors"
	"math"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/table"
)

// partWriter writes the rows of recordings, which come in order, into the part
// files of each table. The recordings table of a part is committed last: where
// it stands, the part is whole.
type partWriter struct {
	job     *job
	formats formats
	tally   *tally // of all recordings; nil where some parts are there
	parts   []int  // to be written; the first is under way
	left    int    // recordings of the first that have not come yet

	recordings *table.Writer[table.Recording]
	states     *table.Writer[table.State]
	cycles     *table.Writer[table.Cycle]
	windows    *windowWriter
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

// open creates the files of the first part. A part without recordings, as of an
// empty data set, is written at once.
func (w *partWriter) open() (err error) {
	if len(w.parts) == 0 {
		return nil
	}
	part := w.parts[0]
	first, end := w.job.bounds(part)
	w.left = end - first
	j := w.job
	if w.recordings, err = createPart(j, w.formats.recordings, part); err != nil {
		return err
	}
	if f := w.formats.states; f != nil {
		if w.states, err = createPart(j, f, part); err != nil {
			return err
		}
	}
	if f := w.formats.cycles; f != nil {
		if w.cycles, err = createPart(j, f, part); err != nil {
			return err
		}
	}
	if f := w.formats.windows; f != nil {
		if w.windows, err = newWindowWriter(j, f, part); err != nil {
			return err
		}
	}
	if err := w.tally.begin(part); err != nil {
		return err
	}
	if w.left == 0 {
		return w.commit()
	}
	return nil
}

// createPart begins a part file, in place of one that an interrupted run
// completed before the part as a whole was.
func createPart[T table.Row](j *job, f *table.Format[T], part int) (*table.Writer[T], error) {
	p := table.PartsOf[T](j.config.Out)
	if err := p.Remove(part); err != nil {
		return nil, err
	}
	return f.Create(p.Path(part))
}

// write adds the rows of the next recording and commits the part with its last.
func (w *partWriter) write(o output) error {
	cells := table.Cells{Labels: o.labels}
	if w.job.extracts {
		if cells.Floats = o.features; cells.Floats == nil {
			cells.Floats = nulls(len(w.job.summary) - len(w.job.labels))
		}
	}
	if err := w.recordings.Append(o.recording, cells); err != nil {
		return err
	}
	for _, s := range o.states {
		if w.states == nil {
			break
		}
		if err := w.states.Append(s, table.Cells{}); err != nil {
			return err
		}
	}
	for _, c := range o.cycles {
		if err := w.cycles.Append(c.row, table.Cells{Labels: o.labels, Floats: c.values}); err != nil {
			return err
		}
	}
	if w.windows != nil {
		if err := w.windows.write(&o.excerpts, o.labels); err != nil {
			return err
		}
	}
	if err := w.tally.add(&o, cells); err != nil {
		return err
	}
	if w.left--; w.left > 0 {
		return nil
	}
	return w.commit()
}

// commit completes the first part and opens the next. The tables are written side
// by side, since after the last recording nothing else is left to do; that of the
// recordings gets its name when all others have theirs.
func (w *partWriter) commit() error {
	var tables errgroup.Group
	tables.Go(w.recordings.Seal)
	if w.states != nil {
		tables.Go(w.states.Commit)
	}
	if w.cycles != nil {
		tables.Go(w.cycles.Commit)
	}
	if w.windows != nil {
		tables.Go(w.windows.Commit)
	}
	if w.tally != nil {
		tables.Go(w.tally.commit)
		if len(w.parts) == 1 {
			tables.Go(w.tally.finishPeople)
		}
	}
	if err := tables.Wait(); err != nil {
		return err
	}
	if err := w.recordings.Commit(); err != nil {
		return err
	}
	w.recordings, w.states, w.cycles, w.windows = nil, nil, nil, nil
	w.parts = w.parts[1:]
	return w.open()
}

// end makes sure that every part was completed.
func (w *partWriter) end() error {
	if len(w.parts) > 0 {
		return errors.New("the run ended before its last part")
	}
	return nil
}

// abort removes what was begun.
func (w *partWriter) abort() {
	if w.recordings != nil {
		_ = w.recordings.Abort()
	}
	if w.states != nil {
		_ = w.states.Abort()
	}
	if w.cycles != nil {
		_ = w.cycles.Abort()
	}
	if w.windows != nil {
		_ = w.windows.Abort()
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
