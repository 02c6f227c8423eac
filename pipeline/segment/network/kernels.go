package network

// kernels holds the weights of a network in the orders in which products read them.
// In forward, and in gradients, each convolution has
//
//	W_0 transposed, W_1 transposed, …, each in × out, then b,
//
// and in backward, which training alone needs, the kernel of the convolution that
// takes the gradient by y to that by x,
//
//	…, W_1, W_0, each out × in,
//
// all with rows padded by zeros.
type kernels struct {
	layers            *layers
	forward, backward []float32
}

// newKernels returns the kernels of n.
func newKernels(n *Network, training bool) *kernels {
	k := &kernels{layers: &n.layers, forward: make([]float32, n.layers.forward)}
	if training {
		k.backward = make([]float32, n.layers.backward)
	}
	k.set(n.Weights)
	return k
}

// set fills k with the weights of its network.
func (k *kernels) set(weights []float32) {
	for _, c := range k.layers.all() {
		kernel, bias := c.split(weights)
		forward, forwardBias := c.splitForward(k.forward)
		copy(forwardBias, bias)
		for row := range c.taps * c.out {
			values, o := kernel[row*c.in:(row+1)*c.in], row%c.out
			column := forward[row/c.out*c.in*padded(c.out):]
			for i, v := range values {
				column[i*padded(c.out)+o] = v
			}
			if k.backward != nil {
				mirrored := (c.taps-1-row/c.out)*c.out + o
				copy(k.backward[c.backward+mirrored*padded(c.in):], values)
			}
		}
	}
}

// unpack writes a gradient in the order of k.forward to grad in the order of the
// parameters.
func (l *layers) unpack(grad, forward []float32) {
	for _, c := range l.all() {
		kernel, bias := c.split(grad)
		from, fromBias := c.splitForward(forward)
		copy(bias, fromBias)
		for row := range c.taps * c.out {
			column := from[row/c.out*c.in*padded(c.out)+row%c.out:]
			for i := range c.in {
				kernel[row*c.in+i] = column[i*padded(c.out)]
			}
		}
	}
}

// sizes returns the numbers of weights of c in kernels.forward and backward.
func (c convolution) sizes() (forward, backward int) {
	return (c.taps*c.in + 1) * padded(c.out), c.taps * c.out * padded(c.in)
}

// splitForward returns the kernel and the bias of c in kernels.forward or a
// gradient.
func (c convolution) splitForward(forward []float32) (kernel, bias []float32) {
	n := c.taps * c.in * padded(c.out)
	p := forward[c.forward:]
	return p[:n], p[n : n+padded(c.out)]
}
