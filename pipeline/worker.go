package pipeline

import (
	"context"
	"fmt"
	"time"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/source"
)

// worker has a processor, which it gives up when a recording takes too long. It is
// closed when it has the last recording.
type worker struct {
	job       *job
	processor *processor
	most      int64 // memory that a recording may need, see corpus.Loader
}

// defaultGrace is the time in which a method must end after its time limit.
const defaultGrace = 2 * time.Second

// maxAbandoned is the number of processors left behind with which a run gives
// up: each keeps its memory and may keep a core busy.
const maxAbandoned = 64

// A recording that needs more than ordinaryMemory, some ten minutes at 4 kHz, waits
// until those that need as much leave room for it in longMemory, which is that of
// one recording of two hours. So the memory of a run does not grow with the number
// of its workers.
var (
	ordinaryMemory = corpus.MemoryFor(10*time.Minute, 4000)
	longMemory     = corpus.MemoryFor(2*time.Hour, 4000)
)

// process processes one recording. The time in which a long one waits for memory
// does not count as its own.
func (w *worker) process(ctx context.Context, it source.Item) *result {
	w.most = ordinaryMemory
	r := w.attempt(ctx, it)
	if r.needs == 0 {
		return r
	}
	need := min(r.needs, longMemory)
	if err := w.job.memory.Acquire(ctx, need); err != nil {
		return w.failed(it, err)
	}
	defer w.job.memory.Release(need)
	w.most = 0
	r = w.attempt(ctx, it)
	w.Close() // its buffers are as long as the recording
	return r
}

// Close gives up the processor.
func (w *worker) Close() error {
	if w.processor != nil {
		w.processor.Close()
		w.processor = nil
	}
	return nil
}

// attempt processes one recording within the time limit. A recording that does
// not end in time, nor when it is told to, is left behind with its processor.
func (w *worker) attempt(ctx context.Context, it source.Item) *result {
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
	reading := w.processor.loader.Reading()
	w.processor = nil // within closes it
	if reading {
		return w.abandon(w.failed(it, fmt.Errorf("%s: not read within the time limit of %v: see whether its disk answers",
			dataset.Printable(it.Entry.Recording.Audio), limit)))
	}
	if err := w.ready(); err != nil {
		return w.abandon(w.failed(it, err))
	}
	return w.abandon(w.processor.process(ctx, it, w.job.TooLong()))
}

// ready makes sure that the worker has a processor that can be used.
func (w *worker) ready() error {
	if w.processor == nil || w.processor.broken {
		w.Close()
		p, err := newProcessor(w.job)
		if err != nil {
			return err
		}
		w.processor = p
	}
	w.processor.loader.Most = w.most
	return nil
}

// failed returns the result of a recording that cannot be processed.
func (w *worker) failed(it source.Item, err error) *result {
	r := newResult(w.job.Run, it.Entry, len(w.job.outputs))
	r.fail(err)
	return r
}

// within processes a recording until ctx ends and the grace after it is over. If
// there is no result then, it returns nil, and the processor closes itself when it
// ends after all.
func (w *worker) within(ctx context.Context, it source.Item) *result {
	done, left := make(chan *result), make(chan struct{})
	p := w.processor
	go func() {
		r := p.process(ctx, it, nil)
		select {
		case done <- r:
		case <-left:
			p.Close()
		}
	}()
	select {
	case r := <-done:
		return r
	case <-ctx.Done():
	}
	timer := time.NewTimer(w.job.grace)
	defer timer.Stop()
	select {
	case r := <-done:
		return r
	case <-timer.C:
		close(left)
		return nil
	}
}

// abandon counts a processor that was left behind. Where that has happened too
// often, it ends the run.
func (w *worker) abandon(r *result) *result {
	if n := w.job.abandoned.Add(1); n >= maxAbandoned {
		r.stop = fmt.Errorf("%d recordings did not end within the time limit, nor when they were told to, the last %s: "+
			"correct the method or the disk; then continue with --resume", n, r.row.Recording)
	}
	return r
}
