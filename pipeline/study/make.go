package study

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/train"
	"phonocycle/pipeline/workers"
)

// maker makes cells.
type maker struct {
	out      string
	progress workers.Progress
	checked  map[string]bool // models and designs whose data are as they were
}

// done reports whether a cell is whole. Its folder names what it is made from.
func (c *cell) done(out string) bool {
	if c.err != nil {
		return false
	}
	dir := filepath.Join(out, c.Folder)
	m, err := manifest(dir)
	if m == nil || err != nil || m.Tool != rundir.Tool || nothingDone(m) != nil {
		return false
	}
	_, err = rundir.OpenTables(dir)
	return err == nil
}

// manifest returns the manifest of an output folder, which is written last; nil where
// there is none.
func manifest(dir string) (*rundir.Manifest, error) {
	var m rundir.Manifest
	if found, err := rundir.ReadJSON(filepath.Join(dir, rundir.ManifestFile), &m); !found || err != nil {
		return nil, err
	}
	return &m, nil
}

// nothingDone returns an error where no recording was segmented, as by a program that
// does not start: such a cell has no scores.
func nothingDone(m *rundir.Manifest) error {
	if m.Counts.Done > 0 || len(m.Problems) == 0 {
		return nil
	}
	first := m.Problems[0]
	return fmt.Errorf("none of %d recordings could be segmented; the first, %s: %s", m.Counts.In, first.Recording, first.Reason)
}

// make makes a cell, or goes on with one that was interrupted.
func (m *maker) make(ctx context.Context, c *cell) error {
	if c.err != nil {
		return c.err
	}
	run := c.run
	run.Out, run.Resume = filepath.Join(m.out, c.Folder), true
	started := time.Now()
	of := named{m.progress, c.ID, &started}
	switch {
	case c.fit != nil && c.crossval:
		run.ModelsFrom = m.foldModels(c)
	case c.fit != nil:
		if err := m.fitModel(ctx, c.fit, of); err != nil {
			return err
		}
	}
	plan, execute := pipeline.PlanRun, pipeline.Run
	if c.crossval {
		plan, execute = pipeline.PlanCrossval, pipeline.Crossval
	}
	if m.stale(run, plan) {
		run.Resume, run.Overwrite = false, true
	}
	if _, err := execute(ctx, run, of); err != nil {
		return err
	}
	made, err := manifest(run.Out)
	if err != nil {
		return err
	}
	return nothingDone(made)
}

// stale reports whether the folder of a cell holds what no run goes on from: a whole run
// in which nothing could be done, or the beginnings of another, as with a damaged plan.
func (m *maker) stale(run config.Config, plan func(config.Config) (*rundir.Plan, error)) bool {
	if whole, _ := manifest(run.Out); whole != nil && nothingDone(whole) != nil {
		return true
	}
	there, err := rundir.ReadPlan(run.Out)
	if err != nil || there == nil {
		return err != nil
	}
	is, err := plan(run)
	return err == nil && is.Digest != there.Digest
}

// checkModel reports whether a model is there, after making sure, once, that the
// recordings that it was fitted to are as they were.
func (m *maker) checkModel(ctx context.Context, f *fit) (there bool, err error) {
	path := filepath.Join(m.out, f.model)
	if m.checked[path] {
		return true, nil
	}
	if _, err := os.Stat(path); err != nil {
		return false, nil
	}
	err = train.CheckModel(ctx, f.run, path)
	m.checked[path] = err == nil
	return true, err
}

// fitModel fits a model, unless it is there.
func (m *maker) fitModel(ctx context.Context, f *fit, p workers.Progress) error {
	if there, err := m.checkModel(ctx, f); there || err != nil {
		return err
	}
	path := filepath.Join(m.out, f.model)
	// What an interrupted fit has learnt is a model too, but not that of the study.
	unfinished := path + ".unfinished"
	began := cputime.Process()
	if _, err := train.Fit(ctx, f.run, train.Target{Model: unfinished, Checkpoint: path + ".checkpoint"}, p); err != nil {
		return err
	}
	if err := os.Rename(unfinished, path); err != nil {
		return fmt.Errorf("model: %w", err)
	}
	m.checked[path] = true
	return rundir.WriteJSON(costOfModel(path), rundir.Cost{Fitting: (cputime.Process() - began).Seconds(), Fits: 1})
}

// costOfModel returns the file that says what the fit of a model cost.
func costOfModel(path string) string { return strings.TrimSuffix(path, ".json") + "-cost.json" }

// foldModels returns a finished or interrupted cross-validation that has all models
// that a cell needs; empty where there is none, or the cell is that one.
func (m *maker) foldModels(c *cell) string {
	plans, _ := filepath.Glob(filepath.Join(escaped(m.out), cellsFolder, "*", rundir.PlanFile)) // the pattern is well formed
	for _, file := range plans {
		dir := filepath.Dir(file)
		plan, err := rundir.ReadPlan(dir)
		if err != nil || plan.Stage != rundir.StageCrossval || filepath.Base(dir) == filepath.Base(c.Folder) || digestOfFit(plan) != c.fit.digest {
			continue
		}
		models, _ := filepath.Glob(filepath.Join(escaped(dir), rundir.ModelsFolder, "fold-*.json"))
		if len(models) == c.fit.folds {
			return dir
		}
	}
	return ""
}

// escaped makes a path stand for itself in a pattern.
func escaped(path string) string {
	return strings.NewReplacer(`[`, `[[]`, `*`, `[*]`, `?`, `[?]`).Replace(path)
}

// noteEvery is the time from one note of a fit to the next; tests shorten it.
var noteEvery = 10 * time.Second

// named puts the name of a cell before what is noted of it, now and then, and shows
// nothing else: the progress of a study is that over its cells.
type named struct {
	workers.Progress
	cell string
	last *time.Time
}

func (named) Start(string, int) {}
func (named) Step(int)          {}
func (named) Done()             {}

func (n named) Note(text string) {
	if now := time.Now(); now.Sub(*n.last) >= noteEvery {
		*n.last = now
		n.Progress.Note(fmt.Sprintf("%s: %s", n.cell, text))
	}
}
