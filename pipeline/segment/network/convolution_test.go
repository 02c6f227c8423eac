package network

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/blas/blas32"
)

// The layers are linear in each of their arguments, and small whole numbers are
// exact in float32, so that gradients can be held to finite differences without
// a tolerance.

// whole fills a matrix with random whole numbers from −3 to 3.
func whole(rng *rand.Rand, rows, cols int) blas32.General {
	var m blas32.General
	resize(&m, rows, cols)
	fillWhole(rng, m.Data)
	return m
}

func fillWhole(rng *rand.Rand, x []float32) {
	for i := range x {
		x[i] = float32(rng.IntN(7) - 3)
	}
}

// direct computes the convolution from its formula.
func (c convolution) direct(params []float32, x blas32.General) [][]float32 {
	kernel, bias := c.split(params)
	y := make([][]float32, c.out)
	for o := range y {
		y[o] = make([]float32, x.Cols)
		for t := range y[o] {
			y[o][t] = bias[o]
			for j := range c.taps {
				at := t + (j-(c.taps-1)/2)*c.dilation
				if at < 0 || at >= x.Cols {
					continue
				}
				for i := range c.in {
					y[o][t] += kernel[(j*c.out+o)*c.in+i] * x.Data[i*x.Stride+at]
				}
			}
		}
	}
	return y
}

func rows(m blas32.General) [][]float32 {
	r := make([][]float32, m.Rows)
	for i := range r {
		r[i] = m.Data[i*m.Stride : i*m.Stride+m.Cols]
	}
	return r
}

// inner returns Σ a·b.
func inner(a, b blas32.General) float32 {
	var sum float32
	for i := range a.Rows {
		for t := range a.Cols {
			sum += a.Data[i*a.Stride+t] * b.Data[i*b.Stride+t]
		}
	}
	return sum
}

func TestConvolution(t *testing.T) {
	for _, tt := range []struct{ in, out, taps, dilation, frames int }{
		{1, 1, 1, 1, 1},
		{3, 2, 3, 1, 5},
		{2, 3, 3, 4, 9},
		{2, 2, 3, 4, 3}, // dilation beyond the sequence
		{3, 3, 5, 2, 11},
		{2, 2, 3, 32, 2*panel + 17}, // several panels
		{2, 2, 3, 64, panel},
	} {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 4))
			c := convolution{in: tt.in, out: tt.out, taps: tt.taps, dilation: tt.dilation, offset: 2}
			params := make([]float32, c.size()+3)
			fillWhole(rng, params)
			x := whole(rng, tt.in, tt.frames)
			var y blas32.General
			resize(&y, tt.out, tt.frames)
			c.forward(y, params, x)
			if d := cmp.Diff(c.direct(params, x), rows(y)); d != "" {
				t.Fatalf("forward (-formula +got):\n%s", d)
			}
			c.checkGradients(t, rng, params, x)
		})
	}
}

// checkGradients takes the loss Σ g·y for random g and compares its gradients
// with differences of the loss over whole steps.
func (c convolution) checkGradients(t *testing.T, rng *rand.Rand, params []float32, x blas32.General) {
	g := whole(rng, c.out, x.Cols)
	var y blas32.General
	resize(&y, c.out, x.Cols)
	loss := func() float32 {
		c.forward(y, params, x)
		return inner(g, y)
	}
	base := loss()

	grad := make([]float32, len(params))
	c.gradParams(grad, g, x)
	for i := range params {
		params[i]++
		if want := loss() - base; grad[i] != want {
			t.Errorf("gradient by parameter %d is %v, difference %v", i, grad[i], want)
		}
		params[i]--
	}

	dx := blas32.General{Rows: x.Rows, Cols: x.Cols, Stride: x.Stride, Data: make([]float32, len(x.Data))}
	c.gradInput(dx, params, g)
	for i := range x.Rows {
		for k := range x.Cols {
			at := i*x.Stride + k
			x.Data[at]++
			if want := loss() - base; dx.Data[at] != want {
				t.Errorf("gradient by input %d at %d is %v, difference %v", i, k, dx.Data[at], want)
			}
			x.Data[at]--
		}
	}
}

func TestRectify(t *testing.T) {
	x := []float32{-2, -0.5, 0, 0.5, 2}
	dy := []float32{1, 2, 3, 4, 5}
	rectify(x)
	if d := cmp.Diff([]float32{0, 0, 0, 0.5, 2}, x); d != "" {
		t.Error(d)
	}
	gradRectify(dy, x)
	if d := cmp.Diff([]float32{0, 0, 0, 4, 5}, dy); d != "" {
		t.Error(d)
	}
}
