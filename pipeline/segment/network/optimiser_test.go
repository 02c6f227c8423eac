package network

import (
	"math"
	"testing"
)

// TestAdamWConstantGradient: with a constant gradient g both corrected moments
// equal their limits, m̂ = g and v̂ = g², at every step, so that each step is
// η·(sign g + λw) whatever the size of g.
func TestAdamWConstantGradient(t *testing.T) {
	n := New(Architecture{Bands: 1, Channels: 1, Kernel: 1, Dilations: []int{1}, States: 1}, 1)
	const rate, decay = 0.01, 0.1
	o := newAdamW(n, decay)
	w := make([]float64, len(n.Weights))
	grad := make([]float32, len(n.Weights))
	for i := range w {
		n.Weights[i] = 0.5
		w[i] = 0.5
		grad[i] = float32(math.Pow(-10, float64(i%4-2)))
	}
	for range 20 {
		o.Update(n.Weights, grad, rate)
		for i := range w {
			kernel := i%2 == 0 // one weight and one bias a layer
			step := math.Copysign(1, float64(grad[i]))
			if kernel {
				step += decay * w[i]
			}
			w[i] -= rate * step
		}
	}
	for i := range w {
		if math.Abs(float64(n.Weights[i])-w[i]) > 1e-5 {
			t.Errorf("weight %d is %v, want %v", i, n.Weights[i], w[i])
		}
	}
}

// TestAdamWForgets follows the moments of a single impulse: m decays by β₁ and v
// by β₂ a step.
func TestAdamWForgets(t *testing.T) {
	n := New(Architecture{Bands: 1, Channels: 1, Kernel: 1, Dilations: []int{1}, States: 1}, 1)
	o := newAdamW(n, 0)
	grad := make([]float32, len(n.Weights))
	grad[0] = 2
	o.Update(n.Weights, grad, 0.1)
	grad[0] = 0
	for range 9 {
		o.Update(n.Weights, grad, 0.1)
	}
	if want := 0.2 * math.Pow(0.9, 9); math.Abs(float64(o.First[0])-want) > 1e-6 {
		t.Errorf("first moment %v, want %v", o.First[0], want)
	}
	if want := 0.004 * math.Pow(0.999, 9); math.Abs(float64(o.Second[0])-want) > 1e-7 {
		t.Errorf("second moment %v, want %v", o.Second[0], want)
	}
}

func TestSchedule(t *testing.T) {
	for _, tt := range []struct {
		steps, step int
		want        float64
	}{
		{404, 0, 2.0 / 102}, // a quarter of the steps rises
		{404, 50, 1},
		{404, 101, 2},
		{404, 101 + 303/2, 2 * (1 + math.Cos(math.Pi*151/303)) / 2},
		{404, 403, 1 + math.Cos(math.Pi*302/303)}, // all but zero
		{9000, 499, 2 * 500.0 / 1001},             // no more than 1000 steps rise
		{9000, 1000, 2},
		{9000, 5000, 1},
		{1, 0, 2},
	} {
		if got := (schedule{peak: 2, steps: tt.steps}).rate(tt.step); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("step %d of %d: rate %v, want %v", tt.step, tt.steps, got, tt.want)
		}
	}
}
