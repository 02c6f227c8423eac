package network

import (
	"math"
	"math/rand/v2"
	"slices"
)

// lossSums is a loss and the number of frames that it sums over.
type lossSums struct {
	loss   float64
	frames int
}

func (t lossSums) mean() float64 { return t.loss / float64(t.frames) }

func (t *lossSums) add(s lossSums) {
	t.loss += s.loss
	t.frames += s.frames
}

// slot is the work on one window of a batch: its own pass and its own gradient,
// so that gradients are added in the order of the batch, whoever computed them.
type slot struct {
	pass   *Pass
	grad   []float32
	labels []int8
	sums   lossSums
}

// learn computes the loss of window w of example e and its gradient into s.
func (s *slot) learn(e *Example, w window, o *Options, rng *rand.Rand) {
	s.labels = o.Augmentation.prepare(s.pass, s.labels, e, e.heard(o.CopyShare, rng), w, o.FrontEnd.Scale, rng)
	logits := s.pass.Forward()
	clear(s.grad)
	s.sums = crossEntropy(logits, s.labels, s.pass.dLogits.Matrix)
	s.pass.Backward(s.grad)
}

// validate returns the mean loss and the share of right frames of the network over
// the examples of the given indices, unchanged; NaN if there are none.
func validate(n *Network, examples []Example, indices []int) (loss, accuracy float64) {
	var sum lossSums
	right := 0
	p := NewPass(n)
	var labels []int8
	for _, i := range indices {
		e := &examples[i]
		in := p.Input(e.Frames)
		labels = labels[:0]
		at := cursor{intervals: e.Intervals}
		for k := range e.Frames {
			interpolate(in, e.Input, k, float64(k)+0.5)
			labels = append(labels, at.label(float64(k)+0.5))
		}
		logits := p.Forward()
		sum.add(crossEntropy(logits, labels, Matrix{}))
		right += matches(logits, labels)
	}
	if sum.frames == 0 {
		return math.NaN(), math.NaN()
	}
	return sum.mean(), float64(right) / float64(sum.frames)
}

// matches counts the labelled frames whose largest logit is that of the label.
func matches(logits Matrix, labels []int8) int {
	n := 0
	for t, label := range labels {
		if label == unlabelled {
			continue
		}
		z := logits.Row(t)
		if slices.Index(z, slices.Max(z)) == int(label) {
			n++
		}
	}
	return n
}
