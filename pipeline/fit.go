package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// FitTarget says where a fitted model goes and what is written into it beside
// its parameters.
type FitTarget struct {
	Model          string // file to write
	Date           string // of the fit, such as 2026-02-03
	CrossValidated string // folder that crossval wrote, whose score the model carries; empty for none
	Checkpoint     string // file that a long fit keeps and goes on from; empty for none
}

// FitReport says what a fit was made from.
type FitReport struct {
	Model   *segment.Model
	Left    []Problem // recordings that could not serve, and why
	Elapsed time.Duration
}

// Failed counts the recordings left out that should have served: those whose
// audio or annotation cannot be read.
func (r *FitReport) Failed() (n int) {
	for _, p := range r.Left {
		if p.Outcome == table.Failed {
			n++
		}
	}
	return n
}

// Fit estimates the parameters of a method from the annotated recordings of the
// configured data sets and writes a model file. The same recordings, options,
// date and program give the same file byte for byte.
//
// When ctx ends, a method that learns by steps writes what it has learnt so far,
// with a remark in the model, and Fit returns the report along with the error.
func Fit(ctx context.Context, c Config, target FitTarget, p Progress) (*FitReport, error) {
	started := time.Now()
	j, err := newJob(c, stage{name: "fit", fits: true})
	if err != nil {
		return nil, err
	}
	defer j.close()
	score, err := j.crossValidated(target.CrossValidated)
	if err != nil {
		return nil, err
	}
	among := j.learners(func(*entry) bool { return true })
	x := &examples{job: j, keep: func(e *entry) bool { return among[e.person] }}
	model, fitErr := j.fit(ctx, x, target.Checkpoint, orSilent(p))
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
	report := &FitReport{Model: model, Left: x.left, Elapsed: time.Since(started)}
	return report, errors.Join(fitErr, err)
}

// fit fits the method to the examples. A fit that was stopped returns what it
// has and the error.
func (j *job) fit(ctx context.Context, x *examples, checkpoint string, p Progress) (*segment.Model, error) {
	params, err := j.method.Fit(ctx, j.fitOptions, x.all(ctx), segment.Fitting{
		Workers: j.config.Workers, Checkpoint: checkpoint, Progress: p.Note,
	})
	if params == nil {
		if len(x.left) > 0 && ctx.Err() == nil {
			err = fmt.Errorf("%w (%d recordings could not serve, first %s: %s)", err, len(x.left), x.left[0].Recording, x.left[0].Reason)
		}
		return nil, fmt.Errorf("fit %w", err)
	}
	m := &segment.Model{
		Method: j.method.Name, DataSet: j.dataSets(), People: x.people, Recordings: x.recordings, Inputs: x.inputDigest(),
		FitOptions: j.plan.FitOptions, Tool: j.plan.Tool, Params: params,
	}
	if err != nil {
		m.Remark = "stopped before its end: " + err.Error()
	}
	return m, err
}

// dataSets names the data sets of the job with their versions.
func (j *job) dataSets() string {
	var names []string
	for _, s := range j.plan.Sources {
		names = append(names, s.Title+" "+s.Version)
	}
	return strings.Join(names, "; ")
}

// writeModel writes a model file, and the folder that it lies in.
func writeModel(path string, content []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("model file %s: %w; choose another", path, err)
	}
	return table.WriteFileAtomic(path, content)
}

// crossValidated returns the score that a cross-validation wrote into folder
// dir, after making sure that it was one of this method, with these options, on
// these data sets.
func (j *job) crossValidated(dir string) (*segment.ModelScore, error) {
	if dir == "" {
		return nil, nil
	}
	was, err := readPlan(dir)
	if err != nil {
		return nil, err
	}
	if was == nil || was.Stage != stageCrossval {
		return nil, fmt.Errorf("folder %s was not written by crossval: name one that was with --cross-validated", dir)
	}
	is := j.plan
	is.Tool, is.Stage, is.Config, is.Digest = was.Tool, was.Stage, was.Config, was.Digest
	is.Config.Method, is.Config.Channel, is.Config.MostPeople = j.config.Method, j.config.Channel, j.config.MostPeople
	if err := is.seal(); err != nil {
		return nil, err
	}
	if is.Digest != was.Digest {
		return nil, fmt.Errorf("folder %s holds the cross-validation of something else: %s; its score is not that of this fit", dir, difference(was, &is))
	}
	return readModelScore(dir, was.Config.Folds)
}

// readModelScore reads the headline of a cross-validation.
func readModelScore(dir string, folds int) (*segment.ModelScore, error) {
	path := filepath.Join(dir, summaryFile)
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
