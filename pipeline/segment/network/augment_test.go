package network

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestPrepareKeepsLabels: however a window is stretched and placed, the label of
// a frame is the state that is heard in it. The test writes the label into the
// input and reads both.
func TestPrepareKeepsLabels(t *testing.T) {
	es, _ := lesson(t, 1)
	e := es[0]
	c := cursor{intervals: e.Intervals}
	for k := range e.Input.Cols {
		l := c.label(float64(k) / fine)
		for b := range e.Input.Rows {
			e.Input.Data[b*e.Input.Stride+k] = float32(l)
		}
	}
	p := NewPass(New(Architecture{Bands: 8, Channels: 4, Kernel: 3, Dilations: []int{1}, States: 4}, 1))
	a := augmentation{Margin: 30, Stretch: 0.2}
	ws := e.windows(0, 60)
	if len(ws) < 2 {
		t.Fatalf("%d windows", len(ws))
	}
	seen := map[int8]int{}
	for item := range 50 {
		w := ws[item%len(ws)]
		labels := a.prepare(p, nil, &e, e.Input, w, 2, stream(1, streamWindow, 0, item))
		if len(labels) != p.input.Cols {
			t.Fatalf("%d labels for %d frames", len(labels), p.input.Cols)
		}
		for k, l := range labels {
			seen[l]++
			heard := p.input.Data[k]
			if l != unlabelled && heard != float32(l) && heard == float32(math.Trunc(float64(heard))) {
				t.Fatalf("window %d, frame %d: label %d where %v is heard", item, k, l, heard)
			}
		}
	}
	for _, l := range []int8{unlabelled, 0, 1, 2, 3} {
		if seen[l] == 0 {
			t.Errorf("label %d never seen", l)
		}
	}
}

func TestPrepareIsSeeded(t *testing.T) {
	es, o := lesson(t, 1)
	p := NewPass(New(o.Architecture, 1))
	w := window{start: 55, end: 150}
	draw := func(item int) []float32 {
		o.Augmentation.prepare(p, nil, &es[0], es[0].Input, w, 2, stream(1, streamWindow, 3, item))
		return append([]float32(nil), rows(p.input)[2]...)
	}
	if !cmp.Equal(draw(4), draw(4)) {
		t.Error("the same stream gives two windows")
	}
	if cmp.Equal(draw(4), draw(5)) {
		t.Error("two streams give the same window")
	}
}

// TestAddNoise: noise of the median's energy lifts what is below it, leaves what is
// far above but for the shift of the median, and moves the median itself little.
func TestAddNoise(t *testing.T) {
	const n, scale = 4000, 2.0
	for _, tt := range []struct{ before, after float64 }{
		{-3, -math.Ln2 / scale},
		{0, 0},
		{3, 3 - math.Ln2/scale},
	} {
		row := make([]float32, n)
		for i := range row {
			row[i] = float32(tt.before)
		}
		addNoise(row, 1, scale, stream(1, streamWindow, 0, 0))
		var mean float64
		for _, v := range row {
			mean += float64(v) / n
		}
		if math.Abs(mean-tt.after) > 0.02 {
			t.Errorf("%v becomes %.3f on average, want %.3f", tt.before, mean, tt.after)
		}
	}
}

// TestColourOff: without augmentation the input stays as it is.
func TestColourOff(t *testing.T) {
	in := Matrix{Rows: 2, Cols: 3, Stride: 3, Data: []float32{1, 2, 3, 4, 5, 6}}
	augmentation{}.colour(in, 2, stream(1, streamWindow, 0, 0))
	if d := cmp.Diff([]float32{1, 2, 3, 4, 5, 6}, in.Data); d != "" {
		t.Error(d)
	}
}

// TestHeard: windows are taken from the copies in the share asked for, from each as
// often, and no number is drawn where there is none.
func TestHeard(t *testing.T) {
	one := func(v float32) Matrix { return Matrix{Rows: 1, Cols: 1, Stride: 1, Data: []float32{v}} }
	e := Example{Input: one(0)}
	rng, untouched := stream(1, streamWindow, 0, 0), stream(1, streamWindow, 0, 0)
	if got := e.heard(0.5, rng); got.Data[0] != 0 || rng.Uint64() != untouched.Uint64() {
		t.Error("without copies: another input, or a number was drawn")
	}
	e.Copies = []Matrix{one(1), one(2), one(3)}
	const n = 10_000
	var counts [4]int
	for range n {
		counts[int(e.heard(0.6, rng).Data[0])]++
	}
	for i, want := range []float64{0.4, 0.2, 0.2, 0.2} {
		if got := float64(counts[i]) / n; math.Abs(got-want) > 0.02 {
			t.Errorf("input %d: share %.3f, want %.1f", i, got, want)
		}
	}
}
