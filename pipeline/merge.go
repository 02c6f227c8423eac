package pipeline

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"phonocycle/pipeline/table"
)

// Merge completes an output folder whose parts were made by several shards: it
// makes sure that every part is there and was made by the folder's plan, and
// writes what stands on the whole, the scores, the summary and the manifest.
func Merge(ctx context.Context, dir string, workers int, p Progress) (report *Report, err error) {
	started := time.Now()
	plan, err := readPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: name a folder that run --shard wrote", dir, planFile)
	}
	if plan.Tool != tool {
		return nil, fmt.Errorf("folder %s was made by %s, and this is %s: merge it with the same version", dir, plan.Tool, tool)
	}
	j := &job{config: plan.Config, plan: *plan}
	j.config.Out, j.config.Workers = dir, workers
	switch plan.Stage {
	case "run":
		j.stage = stage{name: "run", segments: true, extracts: true, scores: true}
	case "segment":
		j.stage = stage{name: "segment", segments: true}
	case "extract":
		j.stage = stage{name: "extract", extracts: true}
	case "windows":
		j.stage = stage{name: "windows", cuts: true}
	case stageCrossval:
		return nil, fmt.Errorf("folder %s holds a cross-validation, which one machine makes without shards: complete it with crossval --resume", dir)
	case stageScore:
		return nil, fmt.Errorf("folder %s holds the scores of another program's segmentations, which one machine makes without shards: complete it with score --resume", dir)
	default:
		return nil, fmt.Errorf("folder %s: its plan names the stage %q, which this version does not know", dir, plan.Stage)
	}
	l, _, err := lockFolder(dir, Shard{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.release()) }()
	if err := j.checkComplete(); err != nil {
		return nil, err
	}
	if err := j.removeTemporary(); err != nil {
		return nil, err
	}
	return j.finish(ctx, started, nil, orSilent(p))
}

// checkComplete makes sure that all parts of all tables are there and carry the
// digest of the plan.
func (j *job) checkComplete() error {
	folders := j.folders()
	var missing []string
	for _, f := range folders {
		for part := range j.plan.parts() {
			if _, err := os.Lstat(f.Path(part)); err != nil {
				missing = append(missing, f.Path(part))
			}
		}
	}
	if n := len(missing); n > 0 {
		const most = 3
		return fmt.Errorf("%d part files are missing, the first %s; run their shards, or continue with --resume",
			n, strings.Join(missing[:min(n, most)], ", "))
	}
	for part := range j.plan.parts() {
		path := folders[0].Path(part)
		r, err := table.Open[table.Recording](path)
		if err != nil {
			return err
		}
		if got := r.Metadata().Config; got != j.plan.Digest {
			return fmt.Errorf("%s was made by another plan (digest %.12s, not %.12s): remove it and run its shard again", path, got, j.plan.Digest)
		}
	}
	return nil
}
