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

func TestOneCycle(t *testing.T) {
	c := OneCycle{Peak: 2, Steps: 101}
	for _, tt := range []struct {
		step int
		want float64
	}{
		{0, 2.0 / 25},
		{15, 2 * (1 + 1.0/25) / 2}, // half way up
		{30, 2},
		{65, 2 * (1 + 1e-4) / 2}, // half way down
		{100, 2e-4},
	} {
		if got := c.Rate(tt.step); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("rate of step %d is %v, want %v", tt.step, got, tt.want)
		}
	}
	if got := (OneCycle{Peak: 3, Steps: 1}).Rate(0); got != 3 {
		t.Errorf("the only step has rate %v", got)
	}
}
