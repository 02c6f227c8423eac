package network

import (
	"fmt"

	"phonocycle/pipeline/segment/option"
)

// Architecture is the shape of a network.
type Architecture struct {
	Bands     int   `yaml:"bands" json:"bands"`
	Channels  int   `yaml:"channels" json:"channels"`
	Kernel    int   `yaml:"kernel" json:"kernel"`
	Dilations []int `yaml:"dilations" json:"dilations"`
	States    int   `yaml:"states" json:"states"`
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

// options describes the shape.
func (a *Architecture) options() []option.Option {
	whole := func(key string, value *int, about, unit string) option.Option {
		return option.Option{Key: key, Value: value, About: about, Unit: unit, Low: 1, High: limit}
	}
	kernel := whole("kernel", &a.Kernel, "Number of taps of a dilated convolution, an odd number", "")
	kernel.Rule = func() error {
		if a.Kernel%2 == 0 {
			return fmt.Errorf("a kernel of %d taps has no middle: want an odd number", a.Kernel)
		}
		return nil
	}
	return option.Under("architecture", []option.Option{
		whole("bands", &a.Bands, "Number of rows of the input, as many as front-end.bank.bands", ""),
		whole("channels", &a.Channels, "Number of rows of every hidden layer", ""),
		kernel,
		{
			Key: "dilations", Value: &a.Dilations, About: "Dilations of the residual blocks, one each", Unit: "frames",
			Low: 1, High: float64(limit / max(1, a.Kernel)), Limit: fmt.Sprintf("1 to %d divided by architecture.kernel", limit), Rule: a.checkSize,
		},
		whole("states", &a.States, "Number of rows of the output, one for each state", ""),
	})
}

// checkSize refuses a network without blocks, or with too many weights.
func (a *Architecture) checkSize() error {
	if n := len(a.Dilations); n < 1 || n > limit {
		return fmt.Errorf("%d blocks: want 1 to %d", n, limit)
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
