package study

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/workers"
)

// Report says what became of a study.
type Report struct {
	Cells    int               `json:"cells"` // that were asked for
	Done     int               `json:"done"`
	Made     int               `json:"made"`     // of them by this call
	Faults   []eval.StudyFault `json:"failed"`   // the other cells, with the reason
	Warnings []string          `json:"warnings"` // of the study
	Written  []string          `json:"written"`
	Elapsed  time.Duration     `json:"-"`

	Study *eval.Study `json:"-"` // nil where only a part was asked for
}

// State is what a study says of a cell before it is made.
type State struct {
	Cell   string `json:"cell"`
	Done   bool   `json:"done"`
	Digest string `json:"digest,omitempty"`
	Folder string `json:"folder,omitempty"` // below the output folder
	Fault  string `json:"fault,omitempty"`  // why it cannot be made
}

// List returns the cells that the options choose, and whether they are done.
func List(f *File, o Options) ([]State, error) {
	cells, err := choose(f, &o)
	if err != nil {
		return nil, err
	}
	var states []State
	for _, c := range cells {
		s := State{Cell: c.ID, Done: c.done(o.Out), Digest: c.Digest, Folder: filepath.ToSlash(c.Folder)}
		if c.err != nil {
			s.Fault = relative(c.err, f, &o)
		}
		states = append(states, s)
	}
	return states, nil
}

// ErrNoCell says that a pattern is of no cell.
var ErrNoCell = errors.New("no such cell")

// choose returns the cells of the part of the study that the options name.
func choose(f *File, o *Options) ([]*cell, error) {
	all := f.cells(o)
	if err := f.checkStrata(all); err != nil {
		return nil, err
	}
	cells, err := only(all, o.Only)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNoCell, err)
	}
	return shardOf(cells, o.Shard), nil
}

// checkStrata refuses a label that no data set has, unless one of them cannot be read.
func (f *File) checkStrata(cells []*cell) error {
	var labels []string
	for _, c := range cells {
		if c.labels == nil && c.err != nil {
			return nil
		}
		labels = append(labels, c.labels...)
	}
	slices.Sort(labels)
	if err := eval.Grouping(f.Scoring.Strata).Check(slices.Compact(labels)); err != nil {
		return fmt.Errorf("scoring: strata: %w", err)
	}
	return nil
}

// Run makes the cells of a study that are not there yet. A cell that fails has a reason,
// and the rest goes on. Where all cells were asked for, it then scores them again and
// writes the results.
func Run(ctx context.Context, f *File, o Options, p workers.Progress) (report *Report, err error) {
	started := time.Now()
	if plan, err := rundir.ReadPlan(o.Out); err != nil || plan != nil {
		return nil, errors.Join(err, fmt.Errorf("output folder %s is that of a run: give another with --out", o.Out))
	}
	cells, err := choose(f, &o)
	if err != nil {
		return nil, err
	}
	if err := rundir.Make(o.Out); err != nil {
		return nil, err
	}
	l, _, err := rundir.LockFolder(o.Out, o.Shard)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	report = &Report{Cells: len(cells), Faults: []eval.StudyFault{}, Warnings: []string{}, Written: []string{}}
	reasons, err := makeAll(ctx, f, cells, &o, report, workers.OrSilent(p))
	if err != nil {
		return nil, err
	}
	r := results{file: f, options: &o, cells: cells, reasons: reasons}
	if o.whole() {
		if err := r.collect(ctx); err != nil {
			return nil, err
		}
		if report.Written, err = r.write(); err != nil {
			return nil, err
		}
		report.Study, report.Warnings = r.study, r.study.Warnings
	}
	report.Faults = r.faults()
	report.Done, report.Elapsed = report.Cells-len(report.Faults), time.Since(started)
	return report, nil
}

// makeAll makes the cells that are not done, and returns why some could not be made, by
// cell.
func makeAll(ctx context.Context, f *File, cells []*cell, o *Options, report *Report, p workers.Progress) (map[*cell]string, error) {
	var missing []*cell
	for _, c := range cells {
		if !c.done(o.Out) {
			missing = append(missing, c)
		}
	}
	reasons := map[*cell]string{}
	m := maker{out: o.Out, progress: p, checked: map[string]bool{}}
	if err := m.checkDone(ctx, cells, missing); err != nil {
		return nil, err
	}
	p.Start("study", len(missing))
	defer p.Done()
	for i, c := range missing {
		if c.done(o.Out) { // by another name in the same study
			p.Step(1)
			continue
		}
		started := time.Now()
		err := m.make(ctx, c)
		if ctx.Err() != nil {
			return nil, fmt.Errorf("interrupted with %d of %d cells done in %s; the same command goes on from there: %w",
				len(cells)-len(missing)+i-len(reasons), len(cells), o.Out, ctx.Err())
		}
		p.Step(1)
		if err != nil {
			reasons[c] = relative(err, f, o)
			p.Note(fmt.Sprintf("%s: failed: %s", c.ID, reasons[c]))
			continue
		}
		report.Made++
		p.Note(fmt.Sprintf("%s: done in %.1f s, %d of %d cells", c.ID, time.Since(started).Seconds(), len(cells)-len(missing)+i+1, len(cells)))
	}
	return reasons, nil
}

// checkDone makes sure that the data of cells that are done are still what they were made
// from: those of one cell of each design, and of each fitted model. The recordings of the
// other cells of a design are compared with these when they are scored.
func (m *maker) checkDone(ctx context.Context, cells, missing []*cell) error {
	for _, c := range cells {
		if c.err != nil || slices.Contains(missing, c) {
			continue
		}
		if f := c.fit; f != nil && f.folds == 0 {
			if _, err := m.checkModel(ctx, f); err != nil {
				return err
			}
		}
		if m.checked[c.Design] {
			continue
		}
		if err := pipeline.CheckInputs(filepath.Join(m.out, c.Folder), c.run); err != nil {
			return fmt.Errorf("cell %s, which is done: %w", c.ID, err)
		}
		m.checked[c.Design] = true
	}
	return nil
}
