// Package train fits segmentation methods to annotated recordings: once, into a
// model file ([Fit]), or once per fold of a cross-validation ([Folds]), each
// time without the people of that fold.
//
// A model names the people that it was fitted to and carries a digest of their
// audio and annotations. The same recordings, options and program give the same
// model byte for byte.
package train

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/atomicfile"
	"phonocycle/pipeline/workers"
)

// Target says where a fitted model is written and what it says beside its
// parameters.
type Target struct {
	Model          string // file to write
	Overwrite      bool   // also a file that the program did not make
	Date           string // of the fit, such as 2026-02-03
	CrossValidated string // folder that crossval wrote, whose score the model carries; empty for none
	Checkpoint     string // file in which a long fit saves its state and from which it continues; empty for none
}

// Report says what a fit was made from.
type Report struct {
	Model    *segment.Model
	Selected string           // how many recordings lists selected; empty without lists
	Unused   []rundir.Problem // recordings that could not be used, and why
	Warnings []string
	Elapsed  time.Duration
}

// Failed counts the unused recordings whose audio or annotation cannot be read.
func (r *Report) Failed() (n int) {
	for _, p := range r.Unused {
		if p.Outcome == table.Failed {
			n++
		}
	}
	return n
}

// Fit estimates the parameters of a method from the annotated recordings of the
// configured data sets and writes a model file.
//
// When ctx ends, a method that learns by steps writes what it has learnt so far,
// with a remark in the model, and Fit returns the report along with the error.
func Fit(ctx context.Context, c config.Config, target Target, p workers.Progress) (*Report, error) {
	started := time.Now()
	if err := cmp.Or(atomicfile.CheckReplace(target.Model, nil, target.Overwrite), checkCheckpoint(target.Checkpoint)); err != nil {
		return nil, err
	}
	run, err := setup.New(c, "fit", setup.Needs{Method: true, Fit: true})
	if err != nil {
		return nil, err
	}
	defer run.Close()
	if err := run.RequireFit(); err != nil {
		return nil, err
	}
	score, err := crossValidated(run, target.CrossValidated)
	if err != nil {
		return nil, err
	}
	x := &examples{run: run, keep: trainingPeople(run, noFold)}
	model, fitErr := fit(ctx, x, target.Checkpoint, workers.OrSilent(p))
	if model == nil {
		return nil, fitErr
	}
	model.Date, model.Score = target.Date, score
	content, err := model.Marshal()
	if err == nil {
		err = writeModel(target.Model, content)
	}
	if err == nil && fitErr == nil && target.Checkpoint != "" {
		if err = os.Remove(target.Checkpoint); errors.Is(err, os.ErrNotExist) {
			err = nil
		}
	}
	return &Report{
		Model: model, Selected: run.Plan.Selected(), Unused: x.unused, Warnings: append(run.Plan.Warnings(), run.Warnings...), Elapsed: time.Since(started),
	}, errors.Join(fitErr, err)
}

// checkCheckpoint refuses a file that is no checkpoint: a fit replaces and at its
// end removes it.
func checkCheckpoint(path string) error {
	content, err := os.ReadFile(path)
	if path == "" || errors.Is(err, os.ErrNotExist) {
		return nil
	}
	var c struct {
		Version int `json:"checkpoint_version"`
	}
	if err == nil && (json.Unmarshal(content, &c) != nil || c.Version == 0) {
		err = fmt.Errorf("%s is not a checkpoint that fit wrote: choose another name", path)
	}
	return err
}

// fit fits the method to the examples. A fit that was stopped returns what it
// has and the error.
func fit(ctx context.Context, x *examples, checkpoint string, p workers.Progress) (*segment.Model, error) {
	run := x.run
	params, err := run.Method.Estimate(ctx, x.all(ctx), segment.Fitting{
		Workers: run.Config.Workers, Checkpoint: checkpoint, Progress: p.Note,
	})
	if params == nil {
		if len(x.unused) > 0 && ctx.Err() == nil {
			err = fmt.Errorf("%w (%d recordings could not be used, first %s: %s)", err, len(x.unused), x.unused[0].Recording, x.unused[0].Reason)
		}
		return nil, fmt.Errorf("fit %s: %w", run.Method.Name, err)
	}
	m := &segment.Model{
		Method: run.Method.Name, DataSet: dataSets(run), People: x.people, Audio: x.audio, Recordings: x.recordings, Inputs: x.inputDigest(),
		Condition:  run.Plan.DataCondition(),
		FitOptions: run.Plan.FitOptions, Tool: run.Plan.Tool, Params: params,
	}
	var remarks []string
	if err != nil {
		remarks = append(remarks, "stopped before its end: "+err.Error())
	}
	m.Remark = strings.Join(append(remarks, run.Plan.TableWarnings()...), "; ")
	return m, err
}

// dataSets names the data sets of a run with their versions.
func dataSets(run *setup.Run) string {
	var names []string
	for _, s := range run.Plan.DataSets {
		names = append(names, s.Title+" "+s.Version)
	}
	return strings.Join(names, "; ")
}

// writeModel writes a model file, and makes its folder.
func writeModel(path string, content []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("model file %s: %w; choose another", path, err)
	}
	return atomicfile.Write(path, content)
}

// crossValidated returns the score that a cross-validation wrote into folder
// dir, after making sure that it was one of this method, with these options, on
// these data sets.
func crossValidated(run *setup.Run, dir string) (*segment.ModelScore, error) {
	if dir == "" {
		return nil, nil
	}
	was, err := rundir.ReadPlan(dir)
	if err != nil {
		return nil, err
	}
	if was == nil || was.Stage != rundir.StageCrossval {
		return nil, fmt.Errorf("folder %s was not written by crossval: name one that was with --cross-validated", dir)
	}
	is := run.Plan
	is.Tool, is.Stage, is.Origin, is.Config, is.Digest = was.Tool, was.Stage, was.Origin, was.Config, was.Digest
	is.Config.Method, is.Config.Channel, is.Config.MostPeople = run.Config.Method, run.Config.Channel, run.Config.MostPeople
	if err := is.Seal(); err != nil {
		return nil, err
	}
	if is.Digest != was.Digest {
		return nil, fmt.Errorf("folder %s holds the cross-validation of something else: %s; its score is not that of this fit", dir, rundir.Difference(was, &is))
	}
	return readScore(dir, was.Config.Folds)
}

// readScore reads the headline of a cross-validation.
func readScore(dir string, folds int) (*segment.ModelScore, error) {
	path := filepath.Join(dir, rundir.SummaryFile)
	content, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("score of the cross-validation: %w; complete it with crossval --resume", err)
	}
	summary := struct {
		Headline segment.ModelScore `json:"headline"`
	}{segment.ModelScore{Folds: folds}}
	if err := json.Unmarshal(content, &summary); err != nil {
		return nil, fmt.Errorf("score of the cross-validation: %s: %w", path, err)
	}
	return &summary.Headline, nil
}
