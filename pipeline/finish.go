package pipeline

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// finish completes the outputs when all parts are there, and writes the
// manifest.
func (j *job) finish(ctx context.Context, started time.Time, p workers.Progress) (*rundir.Report, error) {
	report := &rundir.Report{Selected: j.Plan.Selected(), Warnings: slices.Concat(j.Plan.Warnings(), j.Warnings, j.Spent.Warnings())}
	var written []string
	for _, o := range j.outputs {
		if err := o.finish(ctx, report, p); err != nil {
			return nil, err
		}
		written = append(written, o.names()...)
	}
	written = append(written, j.Written...)
	written = append(written, rundir.PlanFile, rundir.ManifestFile)
	report.Written = rundir.Paths(j.Config.Out, written)
	report.Elapsed, report.Cost = time.Since(started), j.totalCost()
	if err := j.Plan.WriteManifest(j.Config.Out, report, written, j.Config.Workers, started); err != nil {
		return nil, err
	}
	return report, rundir.RemoveCosts(j.Config.Out)
}

// reportShard counts what one shard made. Scores need all shards.
func (j *job) reportShard(started time.Time) (*rundir.Report, error) {
	r := &rundir.Report{Selected: j.Plan.Selected(), Warnings: append(slices.Concat(j.Plan.Warnings(), j.Warnings, j.Spent.Warnings()), fmt.Sprintf("shard %v alone: scores, summary and manifest are written by merge", j.Config.Shard))}
	done := table.PartsOf[table.Recording](j.Config.Out)
	for part := range j.Plan.Parts() {
		if !j.Config.Shard.Has(part) {
			continue
		}
		for row, err := range table.Read[table.Recording](done.Path(part)) {
			if err != nil {
				return nil, err
			}
			if err := r.Add(&row, io.Discard); err != nil {
				return nil, err
			}
		}
	}
	r.Elapsed = time.Since(started)
	return r, j.leaveCost(nil)
}
