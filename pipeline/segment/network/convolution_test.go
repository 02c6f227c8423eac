package network

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The layers are linear in each of their arguments, and small whole numbers are
// exact in float32, so that gradients can be held to finite differences without
// a tolerance.

// whole returns a sequence of random whole numbers from −3 to 3. What pads its rows
// is no number, so that nothing may come of it.
func whole(rng *rand.Rand, frames, channels, margin int) *sequence {
	s := new(sequence)
	s.resize(frames, channels, margin)
	for i := range s.Data {
		s.Data[i] = float32(math.NaN())
	}
	for t := range frames {
		fillWhole(rng, s.Row(t))
	}
	return s
}

func fillWhole(rng *rand.Rand, x []float32) {
	for i := range x {
		x[i] = float32(rng.IntN(7) - 3)
	}
}

// direct computes the convolution from its formula.
func (c convolution) direct(params []float32, x Matrix) [][]float32 {
	kernel, bias := c.split(params)
	y := make([][]float32, x.Rows)
	for t := range y {
		y[t] = slices.Clone(bias)
		for o := range y[t] {
			for j := range c.taps {
				at := t + (j-(c.taps-1)/2)*c.dilation
				if at < 0 || at >= x.Rows {
					continue
				}
				for i, v := range x.Row(at) {
					y[t][o] += kernel[(j*c.out+o)*c.in+i] * v
				}
			}
		}
	}
	return y
}

func rows(m Matrix) [][]float32 {
	r := make([][]float32, m.Rows)
	for i := range r {
		r[i] = m.Row(i)
	}
	return r
}

// inner returns Σ a·b.
func inner(a, b Matrix) float32 {
	var sum float32
	for i := range a.Rows {
		for k, v := range a.Row(i) {
			sum += v * b.Row(i)[k]
		}
	}
	return sum
}

// single is a network of nothing but a convolution.
type single struct {
	convolution
	kernels *kernels
	params  []float32
}

func newSingle(rng *rand.Rand, in, out, taps, dilation int) single {
	c := convolution{in: in, out: out, taps: taps, dilation: dilation}
	n := &Network{Weights: make([]float32, c.size()), layers: layers{entry: c}}
	n.layers.forward, n.layers.backward = c.sizes()
	fillWhole(rng, n.Weights)
	return single{c, newKernels(n, true), n.Weights}
}

// of returns the convolution of x.
func (s single) of(x *sequence) Matrix {
	s.kernels.set(s.params)
	var y sequence
	y.resize(x.Rows, s.out, 0)
	s.apply(&y, nil, s.kernels, x.from(s.reach()), none)
	return y.Matrix
}

func TestConvolution(t *testing.T) {
	for _, tt := range []struct{ in, out, taps, dilation, frames int }{
		{1, 1, 1, 1, 1},
		{3, 2, 3, 1, 5},
		{2, 3, 3, 4, 9},
		{2, 2, 3, 4, 3}, // dilation beyond the sequence
		{3, 3, 5, 2, 11},
		{2, 2, 3, 32, 2*stretch + 17}, // several stretches
		{2, 2, 3, 64, stretch},
		{17, 5, 3, 2, 7}, // rows that are padded to 32
		{5, 33, 1, 1, 6},
	} {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 4))
			c := newSingle(rng, tt.in, tt.out, tt.taps, tt.dilation)
			x := whole(rng, tt.frames, tt.in, c.reach())
			if d := cmp.Diff(c.direct(c.params, x.Matrix), rows(c.of(x))); d != "" {
				t.Fatalf("forward (-formula +got):\n%s", d)
			}
			c.checkGradients(t, rng, x)
		})
	}
}

// checkGradients takes the loss Σ g·y for random g and compares its gradients
// with differences of the loss over whole steps.
func (s single) checkGradients(t *testing.T, rng *rand.Rand, x *sequence) {
	g := whole(rng, x.Rows, s.out, s.reach())
	base := inner(g.Matrix, s.of(x))

	packed := make([]float32, len(s.kernels.forward))
	s.gradParams(packed, g, x.from(s.reach()))
	grad := make([]float32, len(s.params))
	s.kernels.layers.unpack(grad, packed)
	for i := range s.params {
		s.params[i]++
		if want := inner(g.Matrix, s.of(x)) - base; grad[i] != want {
			t.Errorf("gradient by parameter %d is %v, difference %v", i, grad[i], want)
		}
		s.params[i]--
	}

	s.kernels.set(s.params)
	var dx sequence
	dx.resize(x.Rows, s.in, 0)
	s.gradInput(&dx, nil, s.kernels, g)
	for k := range x.Rows {
		for i := range x.Row(k) {
			x.Row(k)[i]++
			if want := inner(g.Matrix, s.of(x)) - base; dx.Row(k)[i] != want {
				t.Errorf("gradient by channel %d at %d is %v, difference %v", i, k, dx.Row(k)[i], want)
			}
			x.Row(k)[i]--
		}
	}
}

// TestByChannel reads the same signal from a matrix of one row per channel.
func TestByChannel(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	c := newSingle(rng, 5, 3, 1, 1)
	x := whole(rng, 9, 5, 0)
	var across Matrix
	across.resize(5, 9)
	for i := range across.Rows {
		for k := range across.Row(i) {
			across.Row(i)[k] = x.Row(k)[i]
		}
	}
	var y sequence
	y.resize(9, 3, 0)
	c.apply(&y, nil, c.kernels, across.byChannel(), none)
	if d := cmp.Diff(rows(c.of(x)), rows(y.Matrix)); d != "" {
		t.Error(d)
	}
}

func TestRectify(t *testing.T) {
	dy := []float32{1, 2, 3, 4, 5}
	gradRectify(dy, []float32{0, 0, 0, 0.5, 2})
	if d := cmp.Diff([]float32{0, 0, 0, 4, 5}, dy); d != "" {
		t.Error(d)
	}
}
