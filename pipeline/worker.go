package pipeline

import (
	"context"
	"fmt"
	"time"

	"phonocycle/pipeline/dataset"
)

// worker has a processor, which it gives up when a recording takes too long.
type worker struct {
	job       *job
	processor *processor
}

// grace is the time in which a method must end after its time limit.
const grace = 2 * time.Second

// maxAbandoned is the number of processors left behind with which a run gives
// up: each keeps its memory and may keep a core busy.
const maxAbandoned = 64

// process processes one recording within the time limit. A recording that does
// not end in time, nor when it is told to, is left behind with its processor.
func (w *worker) process(ctx context.Context, it item) *result {
	if err := w.ready(); err != nil {
		return w.failed(it, err)
	}
	limit := time.Duration(w.job.Config.TimeLimit)
	if limit == 0 {
		return w.processor.process(ctx, it, nil)
	}
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	if r := w.within(ctx, it); r != nil {
		return r
	}
	if w.processor.loader.Reading() {
		return w.abandon(w.failed(it, fmt.Errorf("%s: not read within the time limit of %v: see whether its disk answers",
			dataset.Printable(it.entry.Recording.Audio), limit)))
	}
	w.processor = nil
	if err := w.ready(); err != nil {
		return w.abandon(w.failed(it, err))
	}
	return w.abandon(w.processor.process(ctx, it, w.job.TooLong()))
}

// ready makes sure that the worker has a processor that can be used.
func (w *worker) ready() (err error) {
	if w.processor == nil || w.processor.broken {
		w.processor, err = newProcessor(w.job)
	}
	return err
}

// failed returns the result of a recording that cannot be processed.
func (w *worker) failed(it item, err error) *result {
	r := w.job.newResult(it.entry)
	r.fail(err)
	return r
}

// within processes a recording until ctx ends and the grace after it is over. It
// returns nil if there is no result then.
func (w *worker) within(ctx context.Context, it item) *result {
	done := make(chan *result, 1)
	p := w.processor
	go func() { done <- p.process(ctx, it, nil) }()
	select {
	case r := <-done:
		return r
	case <-ctx.Done():
	}
	timer := time.NewTimer(grace)
	defer timer.Stop()
	select {
	case r := <-done:
		return r
	case <-timer.C:
		return nil
	}
}

// abandon leaves the processor behind. Where that has happened too often, it ends
// the run.
func (w *worker) abandon(r *result) *result {
	w.processor = nil
	if n := w.job.abandoned.Add(1); n >= maxAbandoned {
		r.stop = fmt.Errorf("%d recordings did not end within the time limit, nor when they were told to, the last %s: "+
			"correct the method or the disk; then continue with --resume", n, r.row.Recording)
	}
	return r
}
