package network

import "fmt"

// Architecture is the shape of a network.
type Architecture struct {
	Bands     int   `yaml:"bands" json:"bands"`         // rows of the input
	Channels  int   `yaml:"channels" json:"channels"`   // rows of every hidden layer
	Kernel    int   `yaml:"kernel" json:"kernel"`       // taps of a dilated convolution, odd
	Dilations []int `yaml:"dilations" json:"dilations"` // one residual block each, in frames
	States    int   `yaml:"states" json:"states"`       // rows of the output
}

// defaultArchitecture is a network of 30 052 weights that sees 5.1 s.
func defaultArchitecture() Architecture {
	return Architecture{Bands: 24, Channels: 32, Kernel: 3, Dilations: []int{1, 2, 4, 8, 16, 32, 64}, States: 4}
}

// limit bounds each number of an Architecture, so that a damaged model file
// cannot ask for more memory than a network of this kind could use.
const limit = 1 << 12

// maxWeights bounds their product, the number of weights in the padded rows of
// kernels and the work of each frame: 16 MB of weights, and as much for each of the
// gradients and moments of a fit.
const maxWeights = 1 << 22

// check reports the first way in which a is not the shape of a network.
func (a Architecture) check() error {
	for _, n := range []struct {
		name  string
		value int
	}{{"bands", a.Bands}, {"channels", a.Channels}, {"kernel", a.Kernel}, {"states", a.States}, {"blocks", len(a.Dilations)}} {
		if n.value < 1 || n.value > limit {
			return fmt.Errorf("network: %d %s: want 1 to %d", n.value, n.name, limit)
		}
	}
	if a.Kernel%2 == 0 {
		return fmt.Errorf("network: kernel of %d taps has no middle: want an odd number", a.Kernel)
	}
	for _, d := range a.Dilations {
		if d < 1 || d*a.Kernel > limit {
			return fmt.Errorf("network: dilation %d of a kernel of %d: want 1 to %d frames in all", d, a.Kernel, limit)
		}
	}
	if l := a.lay(); max(l.forward, l.backward) > maxWeights {
		return fmt.Errorf("network of %d weights, %d with rows filled up to multiples of 16: want %d at most; take fewer channels, blocks or taps",
			l.size, max(l.forward, l.backward), maxWeights)
	}
	return nil
}

// block is one residual block: h ← h + mix(relu(widen(h))).
type block struct{ widen, mix convolution }

// layers is an architecture laid out over one slice of parameters.
type layers struct {
	entry  convolution
	blocks []block
	exit   convolution
	size   int // number of parameters

	forward, backward int // sizes of kernels
}

// lay assigns each convolution its stretch of the parameters.
func (a Architecture) lay() layers {
	var l layers
	next := func(in, out, taps, dilation int) convolution {
		c := convolution{in: in, out: out, taps: taps, dilation: dilation, offset: l.size, forward: l.forward, backward: l.backward}
		forward, backward := c.sizes()
		l.size, l.forward, l.backward = l.size+c.size(), l.forward+forward, l.backward+backward
		return c
	}
	l.entry = next(a.Bands, a.Channels, 1, 1)
	for _, d := range a.Dilations {
		l.blocks = append(l.blocks, block{
			widen: next(a.Channels, a.Channels, a.Kernel, d),
			mix:   next(a.Channels, a.Channels, 1, 1),
		})
	}
	l.exit = next(a.Channels, a.States, 1, 1)
	return l
}

// reach returns the longest reach of a convolution.
func (l layers) reach() int {
	longest := 0
	for _, c := range l.all() {
		longest = max(longest, c.reach())
	}
	return longest
}

// all returns the convolutions in the order of their parameters.
func (l layers) all() []convolution {
	cs := []convolution{l.entry}
	for _, b := range l.blocks {
		cs = append(cs, b.widen, b.mix)
	}
	return append(cs, l.exit)
}
