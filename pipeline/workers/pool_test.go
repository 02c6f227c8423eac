package workers

import (
	"context"
	"errors"
	"iter"
	"runtime"
	"sync/atomic"
	"testing"
	"time"
)

func TestInOrderKeepsTheOrder(t *testing.T) {
	for _, workers := range []int{1, 2, 7} {
		var got []int
		err := InOrder(context.Background(), workers, upTo(100),
			func() int { return 0 },
			func(_ context.Context, _ int, i int) int {
				if i%7 == 0 { // let later items overtake
					time.Sleep(time.Millisecond)
				}
				return i * i
			},
			func(v int) error {
				got = append(got, v)
				return nil
			})
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range got {
			if v != i*i {
				t.Fatalf("%d workers: result %d was emitted in place %d", workers, v, i)
			}
		}
		if len(got) != 100 {
			t.Errorf("%d workers: %d of 100 items", workers, len(got))
		}
	}
}

func TestInOrderHoldsFewResults(t *testing.T) {
	const workers = 2
	release := make(chan struct{})
	var started atomic.Int64
	go func() {
		time.Sleep(50 * time.Millisecond)
		close(release)
	}()
	err := InOrder(context.Background(), workers, upTo(1000),
		func() int { return 0 },
		func(_ context.Context, _ int, i int) int {
			started.Add(1)
			if i == 0 {
				<-release
				if n := started.Load(); n > 4*workers {
					t.Errorf("%d items were started behind a slow one, want at most %d", n, 4*workers)
				}
			}
			return i
		},
		func(int) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
}

func TestInOrderStops(t *testing.T) {
	before := runtime.NumGoroutine()
	full := errors.New("disk full")
	emitted := 0
	err := InOrder(context.Background(), 3, upTo(1000),
		func() int { return 0 },
		func(_ context.Context, _ int, i int) int { return i },
		func(i int) error {
			emitted++
			if i == 10 {
				return full
			}
			return nil
		})
	if !errors.Is(err, full) {
		t.Errorf("error of emit: got %v", err)
	}
	if emitted != 11 {
		t.Errorf("%d results were emitted after an error at item 10", emitted)
	}

	ctx, cancel := context.WithCancel(context.Background())
	err = InOrder(ctx, 3, upTo(1000),
		func() int { return 0 },
		func(_ context.Context, _ int, i int) int { return i },
		func(i int) error {
			if i == 5 {
				cancel()
			}
			return nil
		})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}

// upTo yields 0 … n−1.
func upTo(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range n {
			if !yield(i) {
				return
			}
		}
	}
}

// What a worker owns is closed after its last item, also when the pool is stopped.
func TestInOrderClosesWhatWorkersOwn(t *testing.T) {
	for name, failed := range map[string]error{"complete": nil, "stopped": errors.New("full")} {
		var open, closed atomic.Int64
		err := InOrder(context.Background(), 3, upTo(50),
			func() *closer { open.Add(1); return &closer{&closed} },
			func(_ context.Context, _ *closer, i int) int { return i },
			func(i int) error {
				if i == 10 {
					return failed
				}
				return nil
			})
		if !errors.Is(err, failed) || open.Load() != 3 || closed.Load() != 3 {
			t.Errorf("%s: %v, %d opened, %d closed", name, err, open.Load(), closed.Load())
		}
	}
}

type closer struct{ closed *atomic.Int64 }

func (c *closer) Close() error {
	c.closed.Add(1)
	return nil
}
