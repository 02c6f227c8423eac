package pipeline

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/workers"
)

// Merge completes an output folder whose parts were made by several shards: it
// makes sure that every part is there and was made by the folder's plan, and
// completes the outputs. Where c has data sets, it first makes sure that they are
// still what all parts were made from; of the rest of c it reads the lists of people
// and recordings and the number of workers.
func Merge(ctx context.Context, dir string, c config.Config, p workers.Progress) (report *rundir.Report, err error) {
	started, began := time.Now(), cputime.Process()
	plan, err := rundir.ReadPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: name a folder that run --shard wrote", dir, rundir.PlanFile)
	}
	if plan.Tool != rundir.Tool {
		return nil, fmt.Errorf("folder %s was made by %s, and this is %s: merge it with the same version", dir, plan.Tool, rundir.Tool)
	}
	s, err := stageNamed(plan.Stage)
	if err != nil {
		return nil, fmt.Errorf("folder %s: its plan: %w", dir, err)
	}
	if s.notShared != "" {
		return nil, fmt.Errorf("folder %s holds %s", dir, s.notShared)
	}
	j := &job{Run: &setup.Run{Config: plan.Config, Plan: *plan, Corpus: &corpus.Corpus{}}, stage: s, began: began}
	j.Config.Out, j.Config.Workers = dir, c.Workers
	if err := j.makeOutputs(); err != nil {
		return nil, err
	}
	l, _, err := rundir.LockFolder(dir, config.Shard{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	if err := j.checkComplete(); err != nil {
		return nil, err
	}
	if len(c.Inputs) > 0 {
		if err := j.checkData(&c); err != nil {
			return nil, err
		}
	}
	if err := j.removeTemporary(); err != nil {
		return nil, err
	}
	return j.finish(ctx, started, workers.OrSilent(p))
}

// checkComplete makes sure that all parts of all tables are there, as they were
// written, and were made by the plan.
func (j *job) checkComplete() error {
	var missing []string
	for part := range j.Plan.Parts() {
		files, err := j.missingFiles(part)
		if err != nil {
			return err
		}
		missing = append(missing, files...)
	}
	if n := len(missing); n > 0 {
		const most = 3
		return fmt.Errorf("%d part files are missing, the first %s; run their shards, or continue with --resume",
			n, strings.Join(missing[:min(n, most)], ", "))
	}
	for part := range j.Plan.Parts() {
		if err := j.checkPart(part); err != nil {
			return err
		}
	}
	return nil
}
