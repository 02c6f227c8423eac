package network

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas32"
)

// convolution is a dilated convolution along time,
//
//	y[o,t] = b[o] + Σ_j Σ_i W_j[o,i] · x[i, t + (j − (taps−1)/2)·dilation],
//
// with x taken as zero beyond its ends. It is computed as one matrix product
// of out × in with in × time for each tap, on shifted views of x, so that
// nothing is copied. Its parameters are W_0, W_1, …, each out × in row by row,
// then b.
type convolution struct {
	in, out, taps, dilation int
	offset                  int // of its parameters in those of the network
}

// size returns the number of parameters.
func (c convolution) size() int { return c.out * (c.in*c.taps + 1) }

// split returns the kernel and the bias of c in the parameters of the network.
func (c convolution) split(params []float32) (kernel, bias []float32) {
	p := params[c.offset : c.offset+c.size()]
	return p[:len(p)-c.out], p[len(p)-c.out:]
}

// tap returns matrix W_j.
func (c convolution) tap(kernel []float32, j int) blas32.General {
	n := c.out * c.in
	return blas32.General{Rows: c.out, Cols: c.in, Stride: c.in, Data: kernel[j*n : (j+1)*n]}
}

// shift returns how far ahead tap j looks, and the frames [from, to) of y for
// which that lies within a sequence of the given number of frames.
func (c convolution) shift(j, frames int) (shift, from, to int) {
	shift = (j - (c.taps-1)/2) * c.dilation
	return shift, max(0, -shift), min(frames, frames-shift)
}

// panel is the number of frames multiplied at a time. Rows of this length stay
// in the first-level cache, and gonum's product of up to three blocks of 64
// columns runs in the calling goroutine, where a wider one would start others.
const panel = 192

// panels calls do, panel by panel and for each tap j, with the frames [from, to)
// of y and how far ahead of them the tap looks.
func (c convolution) panels(frames int, do func(j, shift, from, to int)) {
	for start := 0; start < frames; start += panel {
		for j := range c.taps {
			shift, from, to := c.shift(j, frames)
			if from, to = max(from, start), min(to, start+panel); from < to {
				do(j, shift, from, to)
			}
		}
	}
}

// forward sets y to the convolution of x.
func (c convolution) forward(y blas32.General, params []float32, x blas32.General) {
	clear(y.Data)
	c.addTo(y, params, x)
}

// addTo adds the convolution of x to y.
func (c convolution) addTo(y blas32.General, params []float32, x blas32.General) {
	kernel, bias := c.split(params)
	for o, b := range bias {
		row := y.Data[o*y.Stride : o*y.Stride+y.Cols]
		for t := range row {
			row[t] += b
		}
	}
	c.panels(y.Cols, func(j, shift, from, to int) {
		blas32.Gemm(blas.NoTrans, blas.NoTrans, 1, c.tap(kernel, j), columns(x, from+shift, to+shift), 1, columns(y, from, to))
	})
}

// gradParams adds the gradient of the loss by the parameters to grad, which is
// laid out like the parameters of the network, given that by y in dy.
func (c convolution) gradParams(grad []float32, dy, x blas32.General) {
	kernel, bias := c.split(grad)
	for j := range c.taps {
		if shift, from, to := c.shift(j, dy.Cols); from < to {
			blas32.Gemm(blas.NoTrans, blas.Trans, 1, columns(dy, from, to), columns(x, from+shift, to+shift), 1, c.tap(kernel, j))
		}
	}
	for o := range bias {
		var sum float32
		for _, v := range dy.Data[o*dy.Stride : o*dy.Stride+dy.Cols] {
			sum += v
		}
		bias[o] += sum
	}
}

// gradInput adds the gradient of the loss by x to dx, given that by y in dy.
func (c convolution) gradInput(dx blas32.General, params []float32, dy blas32.General) {
	kernel, _ := c.split(params)
	c.panels(dy.Cols, func(j, shift, from, to int) {
		blas32.Gemm(blas.Trans, blas.NoTrans, 1, c.tap(kernel, j), columns(dy, from, to), 1, columns(dx, from+shift, to+shift))
	})
}

// columns is the view of columns [from, to) of m.
func columns(m blas32.General, from, to int) blas32.General {
	return blas32.General{Rows: m.Rows, Cols: to - from, Stride: m.Stride, Data: m.Data[from : (m.Rows-1)*m.Stride+to]}
}
