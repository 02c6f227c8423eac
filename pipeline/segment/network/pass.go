package network

import (
	"slices"

	"gonum.org/v1/gonum/blas/blas32"
)

// Pass runs a network over sequences and, in training, back again. It owns the
// activations, which it reuses, and serves one goroutine; any number of passes
// may share a network that is not being changed.
type Pass struct {
	net     *Network
	keep    bool             // keep every layer's activations for Backward
	input   blas32.General   // bands × frames, set by the caller
	streams []blas32.General // the residual stream before each block and after the last; one, if not kept
	widened []blas32.General // each block's rectified convolution; one, if not kept
	top     blas32.General   // the rectified stream
	logits  blas32.General
	dStream blas32.General
	dHidden blas32.General
	dLogits blas32.General // gradient of the loss by the logits, set by the caller of Backward
}

// NewPass prepares runs of n. Backward needs training.
func NewPass(n *Network, training bool) *Pass {
	copies := 1
	if training {
		copies = len(n.Architecture.Dilations)
	}
	return &Pass{
		net: n, keep: training,
		streams: make([]blas32.General, copies+1), widened: make([]blas32.General, copies),
	}
}

// resize makes m a matrix of rows × cols whose rows begin at multiples of 64
// bytes. Its contents are undefined. Rows that begin at other places would
// change the order in which gonum's products add, and with it the last digit.
func resize(m *blas32.General, rows, cols int) {
	stride := (cols + 15) &^ 15
	m.Data = slices.Grow(m.Data[:0], rows*stride)[:rows*stride]
	m.Rows, m.Cols, m.Stride = rows, cols, stride
}

// Input makes room for a sequence of the given number of frames and returns
// it: one row per band, one column per frame, to be filled before Forward.
func (p *Pass) Input(frames int) blas32.General {
	a := p.net.Architecture
	resize(&p.input, a.Bands, frames)
	for i := range p.streams {
		resize(&p.streams[i], a.Channels, frames)
	}
	for i := range p.widened {
		resize(&p.widened[i], a.Channels, frames)
	}
	resize(&p.top, a.Channels, frames)
	resize(&p.logits, a.States, frames)
	if p.keep {
		resize(&p.dStream, a.Channels, frames)
		resize(&p.dHidden, a.Channels, frames)
		resize(&p.dLogits, a.States, frames)
	}
	return p.input
}

// Forward returns the logits of the sequence in Input: one row per state, one
// column per frame, valid until the next call.
func (p *Pass) Forward() blas32.General {
	w := p.net.Weights
	l := &p.net.layers
	h := p.streams[0]
	l.entry.forward(h, w, p.input)
	for i, b := range l.blocks {
		u := p.widened[min(i, len(p.widened)-1)]
		b.widen.forward(u, w, h)
		rectify(u.Data)
		if p.keep {
			copy(p.streams[i+1].Data, h.Data)
			h = p.streams[i+1]
		}
		b.mix.addTo(h, w, u)
	}
	copy(p.top.Data, h.Data)
	rectify(p.top.Data)
	l.exit.forward(p.logits, w, p.top)
	return p.logits
}

// Backward adds to grad, laid out like the network's weights, the gradient of
// the loss by the weights for the sequence of the last Forward, given the
// gradient by the logits in dLogits.
func (p *Pass) Backward(grad []float32) {
	w := p.net.Weights
	l := &p.net.layers
	l.exit.gradParams(grad, p.dLogits, p.top)
	dh, du := p.dStream, p.dHidden
	clear(dh.Data)
	l.exit.gradInput(dh, w, p.dLogits)
	gradRectify(dh.Data, p.top.Data)
	for i := len(l.blocks) - 1; i >= 0; i-- {
		b, u := l.blocks[i], p.widened[i]
		b.mix.gradParams(grad, dh, u)
		clear(du.Data)
		b.mix.gradInput(du, w, dh)
		gradRectify(du.Data, u.Data)
		b.widen.gradParams(grad, du, p.streams[i])
		b.widen.gradInput(dh, w, du)
	}
	l.entry.gradParams(grad, dh, p.input)
}
