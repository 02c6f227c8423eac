// Package workers does work on several goroutines and gives the results in the
// order of the items, so that what is written does not depend on the number of
// workers.
package workers

import (
	"context"
	"io"
	"iter"
	"sync"
)

// InOrder calls do for each item on the given number of workers. It passes the
// results to emit in the order of the items, from one goroutine. Another
// goroutine draws the items. Each worker owns one value made by newWorker, which
// holds its plans and buffers, and closes it at its end if it is an [io.Closer].
//
// At most four results per worker are held at any time, so that one slow
// recording cannot make the results of all later ones pile up.
//
// The first error of emit, or the end of ctx, stops the pool. InOrder returns
// that error after all its goroutines have ended.
func InOrder[I, W, T any](ctx context.Context, workers int, items iter.Seq[I], newWorker func() W,
	do func(context.Context, W, I) T, emit func(T) error) error {

	type numbered[V any] struct {
		number int
		value  V
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)

	window := make(chan struct{}, 4*workers)
	queue := make(chan numbered[I])
	results := make(chan numbered[T], workers)

	complete := false // read after the queue is closed and drained
	go func() {
		defer close(queue)
		n := 0
		for item := range items {
			select {
			case window <- struct{}{}:
			case <-ctx.Done():
				return
			}
			select {
			case queue <- numbered[I]{n, item}:
				n++
			case <-ctx.Done():
				return
			}
		}
		complete = true
	}()

	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			w := newWorker()
			if c, ok := any(w).(io.Closer); ok {
				defer c.Close()
			}
			for item := range queue {
				results <- numbered[T]{item.number, do(ctx, w, item.value)}
			}
		})
	}
	go func() { group.Wait(); close(results) }()

	waiting := make(map[int]T, 4*workers)
	next := 0
	var failed error
	for r := range results {
		waiting[r.number] = r.value
		for ctx.Err() == nil {
			value, ok := waiting[next]
			if !ok {
				break
			}
			delete(waiting, next)
			if failed = emit(value); failed != nil {
				cancel(failed)
			}
			next++
			<-window
		}
	}
	if failed == nil && (!complete || len(waiting) > 0) {
		failed = context.Cause(ctx)
	}
	return failed
}
