package network

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// lesson returns recordings of people whose sounds are bursts of 50 Hz (S1) and
// 120 Hz (S2), annotated but for their first and last second, and options for a
// network that learns them in a moment.
func lesson(t testing.TB, people int) ([]Example, Options) {
	t.Helper()
	o := DefaultOptions()
	o.FrontEnd.Bank.Bands = 8
	o.Architecture = Architecture{Bands: 8, Channels: 8, Kernel: 3, Dilations: []int{1, 2, 4}, States: 4}
	o.Epochs, o.Batch, o.Window, o.Peak = 4, 4, 100, 0.02
	f, err := NewFrontEnd(o.FrontEnd)
	if err != nil {
		t.Fatal(err)
	}
	var es []Example
	for person := range people {
		rng := stream(99, 0, person, 0)
		x := make([]float64, 6000)
		for i := range x {
			x[i] = 0.003 * rng.NormFloat64()
		}
		var ivs []pcg.Interval
		cycle := 500 + 40*person
		ends := [4]int{100, 220, 300, cycle}
		for start := 0; start+cycle <= len(x); start += cycle {
			from := start
			for s, end := range ends {
				for i := from; i < start+end && s%2 == 0; i++ {
					phase := float64(i-from) / 1000
					x[i] += 0.2 * math.Sin(2*math.Pi*(50+35*float64(s))*phase) * math.Sin(math.Pi*float64(i-from)/float64(start+end-from))
				}
				if start > 1000 && start+cycle < 5000 {
					ivs = append(ivs, pcg.Interval{Start: time.Duration(from) * time.Millisecond, End: time.Duration(start+end) * time.Millisecond, State: pcg.Cycle[s]})
				}
				from = start + end
			}
		}
		es = append(es, Example{
			Recording: fmt.Sprint("r", person), Person: fmt.Sprint("p", person),
			Input: f.Fine(x), Frames: f.Frames(len(x)), Intervals: ivs,
		})
	}
	return es, o
}

// withCopies gives each example two copies, one weaker and one with its bands
// exchanged, and has half of the windows learnt from them.
func withCopies(es []Example, o Options) ([]Example, Options) {
	o.CopyShare = 0.5
	for i := range es {
		weak, turned := es[i].Input, es[i].Input
		weak.Data, turned.Data = slices.Clone(weak.Data), slices.Clone(turned.Data)
		for k := range weak.Data {
			weak.Data[k] /= 2
		}
		slices.Reverse(turned.Data)
		es[i].Copies = []Matrix{weak, turned}
	}
	return es, o
}

func trained(t *testing.T, es []Example, o Options, workers int) *Trainer {
	t.Helper()
	tr, err := NewTrainer(es, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.Run(context.Background(), workers, nil); err != nil {
		t.Fatal(err)
	}
	return tr
}

func weights(tr *Trainer) []float32 {
	n, _ := tr.Best()
	return n.Weights
}

func TestTrainingLearns(t *testing.T) {
	es, o := lesson(t, 6)
	o.Epochs, o.Validation = 20, 0.34
	tr, err := NewTrainer(es, o)
	if err != nil {
		t.Fatal(err)
	}
	var ps []Progress
	if err := tr.Run(context.Background(), 1, func(p Progress) error { ps = append(ps, p); return nil }); err != nil {
		t.Fatal(err)
	}
	first, last := ps[0], ps[len(ps)-1]
	if len(ps) != 20 || last.Epoch != 20 || last.Remaining != 0 || ps[9].Remaining <= 0 || last.FramesPerSecond <= 0 {
		t.Errorf("progress: %d reports, last %+v", len(ps), last)
	}
	if last.ValidationLoss > first.ValidationLoss/3 || last.ValidationAccuracy < 0.9 {
		t.Errorf("on people kept aside: loss %.3f after one epoch, %.3f at the end, accuracy %.3f", first.ValidationLoss, last.ValidationLoss, last.ValidationAccuracy)
	}
	least := math.Inf(1)
	for _, p := range ps {
		least = min(least, p.ValidationLoss)
	}
	if _, epoch := tr.Best(); ps[epoch-1].ValidationLoss != least {
		t.Errorf("best epoch %d has loss %v, least is %v", epoch, ps[epoch-1].ValidationLoss, least)
	}
	if learnt, aside := tr.Size(); learnt != 4 || aside != 2 {
		t.Errorf("%d learnt from, %d aside", learnt, aside)
	}
}

func trainedLesson(t *testing.T) *Trainer {
	t.Helper()
	es, o := lesson(t, 3)
	return trained(t, es, o, 1)
}

// TestSameWeights is the promise of the package comment: for the same seed,
// whatever the number of workers, the same bits; for another seed, others.
func TestSameWeights(t *testing.T) {
	plain := weights(trainedLesson(t))
	es, o := withCopies(lesson(t, 3))
	one := weights(trained(t, es, o, 1))
	for _, workers := range []int{2, 3, 8} {
		if d := cmp.Diff(one, weights(trained(t, es, o, workers))); d != "" {
			t.Fatalf("weights differ between 1 and %d workers", workers)
		}
	}
	if cmp.Equal(one, plain) {
		t.Error("copies change nothing")
	}
	o.Seed++
	if cmp.Equal(one, weights(trained(t, es, o, 1))) {
		t.Error("another seed gives the same weights")
	}
}

// TestResume interrupts training at each step in turn and goes on in a new
// trainer.
func TestResume(t *testing.T) {
	es, o := withCopies(lesson(t, 3))
	o.Epochs, o.Batch, o.Validation = 2, 2, 0.3
	whole := trained(t, es, o, 1)
	want := weights(whole)
	for stop := 1; stop < whole.schedule.steps; stop++ {
		first, err := NewTrainer(es, o)
		if err != nil {
			t.Fatal(err)
		}
		for range stop {
			if err := first.step(1); err != nil {
				t.Fatal(err)
			}
			if first.adam.Step%first.stepsPerEpoch() == 0 {
				first.finishEpoch()
			}
		}
		file, err := first.Save()
		if err != nil {
			t.Fatal(err)
		}
		second, err := NewTrainer(es, o)
		if err != nil {
			t.Fatal(err)
		}
		if err := second.Restore(file); err != nil {
			t.Fatal(err)
		}
		if err := second.Run(context.Background(), 2, nil); err != nil {
			t.Fatal(err)
		}
		_, epoch := second.Best()
		if _, wantEpoch := whole.Best(); !cmp.Equal(want, weights(second)) || epoch != wantEpoch {
			t.Errorf("interrupted after step %d: other weights, or epoch %d instead of %d", stop, epoch, wantEpoch)
		}
	}
}

func TestCancel(t *testing.T) {
	es, o := lesson(t, 3)
	tr, err := NewTrainer(es, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	err = tr.Run(ctx, 1, func(p Progress) error {
		if p.Epoch == 2 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "epoch 3 of 4") {
		t.Errorf("error %v", err)
	}
	if best, epoch := tr.Best(); best == nil || epoch != 2 {
		t.Errorf("best network %v of epoch %d", best != nil, epoch)
	}
	full := errors.New("disk full")
	if err := tr.Run(context.Background(), 1, func(Progress) error { return full }); err != full {
		t.Errorf("error %v, want that of progress", err)
	}
	if err := tr.Run(context.Background(), 1, nil); err != nil {
		t.Fatal(err)
	}
	if !cmp.Equal(weights(tr), weights(trained(t, es, o, 1))) {
		t.Error("going on after a stop gives other weights")
	}
}

func TestRestoreRefuses(t *testing.T) {
	es, o := lesson(t, 3)
	tr := trained(t, es, o, 1)
	content, err := tr.Save()
	if err != nil {
		t.Fatal(err)
	}
	file := string(content)
	other := o
	other.Decay *= 2
	moved := append([]Example(nil), es...)
	moved[0].Intervals = append([]pcg.Interval(nil), moved[0].Intervals...)
	moved[0].Intervals[0].Start++
	copied, _ := withCopies(append([]Example(nil), es...), o)
	for _, tt := range []struct {
		name string
		es   []Example
		o    Options
		file string
		want string
	}{
		{"other options", es, other, file, "another training"},
		{"other annotation", moved, o, file, "another training"},
		{"other copies", copied, o, file, "another training"},
		{"cut short", es, o, file[:500], "unexpected end"},
		{"other version", es, o, strings.Replace(file, `"checkpoint_version":2`, `"checkpoint_version":9`, 1), "version 9"},
		{"step beyond the end", es, o, strings.Replace(file, `"step":`, `"step":9`, 1), "damaged"},
		{"weights lost", es, o, strings.Replace(file, `"weights":"`, `"weights":"AAAAAAAA`, 1), "network: "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			fresh, err := NewTrainer(tt.es, tt.o)
			if err != nil {
				t.Fatal(err)
			}
			if err := fresh.Restore([]byte(tt.file)); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
			if best, _ := fresh.Best(); best != nil || fresh.adam.Step != 0 {
				t.Error("a refused checkpoint changed the trainer")
			}
		})
	}
}

func TestNewTrainerRefuses(t *testing.T) {
	for _, tt := range []struct {
		name string
		edit func([]Example, *Options)
		want string
	}{
		{"a state missing", func(es []Example, _ *Options) {
			for i := range es {
				var kept []pcg.Interval
				for _, iv := range es[i].Intervals {
					if iv.State != pcg.S2 {
						kept = append(kept, iv)
					}
				}
				es[i].Intervals = kept
			}
		}, "no S2 in 3 recordings to learn from"},
		{"no annotation", func(es []Example, _ *Options) {
			for i := range es {
				es[i].Intervals = nil
			}
		}, "no S1"},
		{"other bands", func(es []Example, o *Options) { o.Architecture.Bands, o.FrontEnd.Bank.Bands = 9, 9 }, "recording r0: 8 bands where the network reads 9"},
		{"front end of other bands", func(es []Example, o *Options) { o.Architecture.Bands = 9 }, "a network of 9 bands behind a filter bank of 8"},
		{"not finite", func(es []Example, _ *Options) { es[1].Input.Data[5] = float32(math.NaN()) }, "recording r1: input is not finite"},
		{"copy of another length", func(es []Example, _ *Options) {
			es[1].Copies = []Matrix{{Rows: 8, Cols: 3, Stride: 3, Data: make([]float32, 24)}}
		}, "recording r1: copy 1 is not finite"},
		{"overlap", func(es []Example, _ *Options) { es[2].Intervals[1].Start -= 1e6 }, "recording r2: interval 1"},
		{"no epochs", func(_ []Example, o *Options) { o.Epochs = 0 }, "epochs is 0"},
		{"rate not a number", func(_ []Example, o *Options) { o.Peak = math.NaN() }, "peak-rate is NaN"},
		{"even kernel", func(_ []Example, o *Options) { o.Architecture.Kernel = 2 }, "has no middle"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			es, o := lesson(t, 3)
			tt.edit(es, &o)
			if _, err := NewTrainer(es, o); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

func TestNetworkJSON(t *testing.T) {
	a := Architecture{Bands: 3, Channels: 4, Kernel: 3, Dilations: []int{1, 2}, States: 4}
	n := New(a, 5)
	data, err := json.Marshal(n)
	if err != nil {
		t.Fatal(err)
	}
	var m Network
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	if !cmp.Equal(n.Weights, m.Weights) || !cmp.Equal(n.Architecture, m.Architecture) {
		t.Error("a network read back is another")
	}

	broken := New(a, 5)
	broken.Weights[7] = float32(math.NaN())
	nan, err := json.Marshal(broken)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ name, data, want string }{
		{"not a number", string(nan), "weight 8 of 180 is NaN"},
		{"other bands", strings.Replace(string(data), `"bands":3`, `"bands":4`, 1), "made for another network"},
		{"no channels", strings.Replace(string(data), `"channels":4`, `"channels":0`, 1), "architecture.channels is 0"},
		{"half a weight", strings.Replace(string(data), `"weights_float32":"`, `"weights_float32":"AAAA`, 1), "float32"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var m Network
			if err := json.Unmarshal([]byte(tt.data), &m); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}
