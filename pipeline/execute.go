package pipeline

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"sync"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/workers"
)

// execute makes the parts that are missing. Where all parts are there then, it
// completes the outputs.
func execute(ctx context.Context, c config.Config, s stage, from source.Source, p workers.Progress) (*rundir.Report, error) {
	started, began := time.Now(), cputime.Process()
	if c.Out == "" {
		return nil, errors.New("no output folder: name one with --out")
	}
	j, err := newJob(c, s, from)
	if err != nil {
		return nil, err
	}
	defer j.close()
	j.began = began
	return j.execute(ctx, started, workers.OrSilent(p))
}

// execute does the work of the job in its output folder, which it locks.
func (j *job) execute(ctx context.Context, started time.Time, p workers.Progress) (report *rundir.Report, err error) {
	c := &j.Config
	if err := rundir.Make(c.Out); err != nil {
		return nil, err
	}
	l, stale, err := rundir.LockFolder(c.Out, c.Shard)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	if stale != "" {
		j.Warnings = append(j.Warnings, stale)
	}
	if c.Overwrite {
		if err := rundir.Clear(c.Out); err != nil {
			return nil, err
		}
	}
	if err := j.Plan.WriteOrVerify(c.Out, c.Resume); err != nil {
		return nil, j.namesChange(err, j.Corpus)
	}
	if err := j.source.Prepare(ctx, j.Run, p); err != nil {
		return nil, j.leaveCost(err)
	}
	if err := j.makeParts(ctx, p); err != nil {
		return nil, j.leaveCost(err)
	}
	if c.Shard.Of > 0 {
		return j.reportShard(started)
	}
	if err := j.removeTemporary(); err != nil {
		return nil, err
	}
	j.Corpus.Close()
	return j.finish(ctx, started, p)
}

// makeParts processes the recordings of all parts that are missing.
func (j *job) makeParts(ctx context.Context, p workers.Progress) (err error) {
	missing, err := j.missingParts()
	if err != nil || len(missing) == 0 {
		return err
	}
	total := 0
	for _, part := range missing {
		first, end := j.bounds(part)
		total += end - first
	}
	p.Start(j.stage.name, total)
	defer p.Done()

	w := partWriter{job: j, parts: missing, incomplete: len(missing), whole: len(missing) == j.Plan.Parts()}
	// Describing a thousand columns takes a while, in which the workers can start.
	begin := sync.OnceValue(w.begin)
	go begin()
	defer w.abort()
	var itemErr error
	err = workers.InOrder(ctx, j.Config.Workers, j.items(missing, &itemErr),
		func() *worker { return &worker{job: j} },
		func(ctx context.Context, w *worker, it source.Item) *result { return w.process(ctx, it) },
		func(r *result) error {
			if err := begin(); err != nil {
				return err
			}
			if r.stop != nil {
				return r.stop
			}
			p.Step(1)
			return w.write(r)
		})
	if begun := begin(); err == nil { // without recordings nothing has begun yet
		err = begun
	}
	err = errors.Join(itemErr, err, w.waitCommit())
	for _, part := range missing[:len(missing)-w.incomplete] {
		first, end := j.bounds(part)
		j.made += end - first
	}
	if errors.Is(err, context.Canceled) {
		return fmt.Errorf("interrupted with %d of %d parts complete in %s; continue with --resume: %w",
			j.Plan.Parts()-w.incomplete, j.Plan.Parts(), j.Config.Out, err)
	}
	if err == nil && w.incomplete > 0 {
		err = errors.New("the run ended before its last part")
	}
	return err
}

// items yields the recordings of the given parts in order.
func (j *job) items(parts []int, failed *error) iter.Seq[source.Item] {
	return func(yield func(source.Item) bool) {
		for _, part := range parts {
			first, end := j.bounds(part)
			for i := first; i < end; i++ {
				it, err := j.source.Item(&j.Corpus.Entries[i])
				if err != nil {
					*failed = err
					return
				}
				if !yield(it) {
					return
				}
			}
		}
	}
}
