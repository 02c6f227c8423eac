package network

// Pass runs a network over sequences and, in training, back again. It owns the
// activations, which it reuses, and serves one goroutine; any number of passes
// may share a network.
type Pass struct {
	net     *Network
	kernels *kernels
	input   Matrix     // bands × frames, set by the caller
	streams []sequence // the residual stream before each block and, rectified, after the last; one, if not kept
	widened []sequence // each block's rectified convolution; one, if not kept
	logits  sequence
	dStream sequence
	dHidden sequence
	dLogits sequence // gradient of the loss by the logits, set by the caller of Backward
}

// NewPass prepares runs of n as it is; later changes of its weights change nothing.
func NewPass(n *Network) *Pass { return newPass(n, newKernels(n, false)) }

// newPass prepares runs of n with the given kernels. It keeps every layer's
// activations for Backward if the kernels are those of training.
func newPass(n *Network, k *kernels) *Pass {
	p := &Pass{net: n, kernels: k, streams: make([]sequence, 1), widened: make([]sequence, 1)}
	if p.training() {
		p.streams = make([]sequence, len(n.layers.blocks)+1)
		p.widened = make([]sequence, len(n.layers.blocks))
	}
	return p
}

func (p *Pass) training() bool { return p.kernels.backward != nil }

// Input makes room for a sequence of the given number of frames and returns
// it: one row per band, one column per frame, to be filled before Forward.
func (p *Pass) Input(frames int) Matrix {
	a, margin := p.net.Architecture, p.net.layers.reach()
	p.input.resize(a.Bands, frames)
	for i := range p.streams {
		p.streams[i].resize(frames, a.Channels, margin)
	}
	for i := range p.widened {
		p.widened[i].resize(frames, a.Channels, 0)
	}
	p.logits.resize(frames, a.States, 0)
	if p.training() {
		p.dStream.resize(frames, a.Channels, 0)
		p.dHidden.resize(frames, a.Channels, margin)
		p.dLogits.resize(frames, a.States, 0)
	}
	return p.input
}

// Forward returns the logits of the sequence in Input: one row per frame, one
// column per state, valid until the next call.
func (p *Pass) Forward() Matrix {
	l := &p.net.layers
	h := &p.streams[0]
	l.entry.apply(h, nil, p.kernels, p.input.byChannel(), none)
	for i, b := range l.blocks {
		u := &p.widened[min(i, len(p.widened)-1)]
		b.widen.apply(u, nil, p.kernels, h.from(b.widen.reach()), rectified)
		floor := none
		if i == len(l.blocks)-1 {
			floor = rectified
		}
		next := &p.streams[min(i+1, len(p.streams)-1)]
		b.mix.apply(next, h.Data, p.kernels, u.from(0), floor)
		h = next
	}
	l.exit.apply(&p.logits, nil, p.kernels, h.from(0), none)
	return p.logits.Matrix
}

// Backward adds to grad, in the order of kernels.forward, the gradient of the loss
// by the weights for the sequence of the last Forward, given the gradient by the
// logits in dLogits.
func (p *Pass) Backward(grad []float32) {
	l := &p.net.layers
	top := &p.streams[len(l.blocks)]
	l.exit.gradParams(grad, &p.dLogits, top.from(0))
	dh, du := &p.dStream, &p.dHidden
	l.exit.gradInput(dh, nil, p.kernels, &p.dLogits)
	gradRectify(dh.Data, top.Data)
	for i := len(l.blocks) - 1; i >= 0; i-- {
		b, u := l.blocks[i], &p.widened[i]
		b.mix.gradParams(grad, dh, u.from(0))
		b.mix.gradInput(du, nil, p.kernels, dh)
		gradRectify(du.Data, u.Data)
		b.widen.gradParams(grad, du, p.streams[i].from(b.widen.reach()))
		b.widen.gradInput(dh, dh.Data, p.kernels, du)
	}
	l.entry.gradParams(grad, dh, p.input.byChannel())
}
