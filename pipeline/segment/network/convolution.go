package network

import (
	"math"

	"phonocycle/pipeline/simd"
)

// convolution is a dilated convolution along time,
//
//	y[t,o] = b[o] + Σ_j Σ_i W_j[o,i] · x[t + (j − (taps−1)/2)·dilation, i],
//
// with x taken as zero beyond its ends. Its parameters are W_0, W_1, …, each
// out × in row by row, then b.
type convolution struct {
	in, out, taps, dilation int

	offset   int // of its parameters in those of the network
	forward  int // of its weights in kernels.forward
	backward int // of its weights in kernels.backward
}

// size returns the number of parameters.
func (c convolution) size() int { return c.out * (c.in*c.taps + 1) }

// reach returns how many frames before and behind a frame the convolution reads.
func (c convolution) reach() int { return (c.taps - 1) / 2 * c.dilation }

// split returns the kernel and the bias of c in the parameters of the network.
func (c convolution) split(params []float32) (kernel, bias []float32) {
	p := params[c.offset : c.offset+c.size()]
	return p[:len(p)-c.out], p[len(p)-c.out:]
}

// none is the floor of a sum that may have any value, and rectified that of a sum
// to which a rectifier is applied.
var none = float32(math.Inf(-1))

const rectified = 0

// apply sets y to the convolution of x, which begins reach frames before y, plus
// start, which may be y or nil, and raises the sums to the floor.
func (c convolution) apply(y *sequence, start []float32, k *kernels, x operand, floor float32) {
	kernel, bias := c.splitForward(k.forward)
	simd.SumProducts(y.Data, start, x.data, kernel, bias, floor, &simd.Products{
		Rows: y.Rows, Cols: y.Stride, Taps: c.taps, Depth: c.in,
		NextRow: y.Stride, ANextRow: x.frame, ANextTap: c.dilation * x.frame, ANext: x.channel, BNext: y.Stride,
	})
}

// gradInput sets dx to the gradient of the loss by x, given that by y in dy, plus
// start, which may be dx or nil.
func (c convolution) gradInput(dx *sequence, start []float32, k *kernels, dy *sequence) {
	simd.SumProducts(dx.Data, start, dy.from(c.reach()).data, k.backward[c.backward:], nil, none, &simd.Products{
		Rows: dx.Rows, Cols: dx.Stride, Taps: c.taps, Depth: c.out,
		NextRow: dx.Stride, ANextRow: dy.Stride, ANextTap: c.dilation * dy.Stride, ANext: 1, BNext: dx.Stride,
	})
}

// stretch is the number of frames over which a gradient is summed at a time: x and
// dy of 32 channels then lie in the nearest cache for all taps.
const stretch = 96

// gradParams adds the gradient of the loss by the parameters to grad, in the order
// of kernels.forward, given that by y in dy.
func (c convolution) gradParams(grad []float32, dy *sequence, x operand) {
	kernel, bias := c.splitForward(grad)
	for t := 0; t < dy.Rows; t += stretch {
		frames := min(stretch, dy.Rows-t)
		p := simd.Products{
			Rows: c.in, Cols: dy.Stride, Taps: 1, Depth: frames,
			NextRow: dy.Stride, ANextRow: x.channel, ANext: x.frame, BNext: dy.Stride,
		}
		for j := range c.taps {
			tap := kernel[j*c.in*dy.Stride:]
			simd.SumProducts(tap, tap, x.data[(t+j*c.dilation)*x.frame:], dy.Data[t*dy.Stride:], nil, none, &p)
		}
		p.Rows, p.ANext = 1, 0
		simd.SumProducts(bias, bias, []float32{1}, dy.Data[t*dy.Stride:], nil, none, &p)
	}
}

// gradRectify clears dy where the rectified sum y is zero; dy becomes the gradient
// by the sum. No y is −0, since sums that begin at 0 never are.
func gradRectify(dy, y []float32) {
	y = y[:len(dy)]
	for i, v := range dy {
		positive := uint32(-int32(math.Float32bits(y[i])) >> 31)
		dy[i] = math.Float32frombits(math.Float32bits(v) & positive)
	}
}
