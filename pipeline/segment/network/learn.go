package network

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas/blas32"

	"phonocycle/pipeline/pcg"
)

// learn computes the loss of window w and its gradient into s.
func (t *Trainer) learn(s *slot, w window, rng *rand.Rand) {
	s.labels = t.options.Augmentation.prepare(s.pass, s.labels, &t.examples[w.example], w, t.options.FrontEnd.Scale, rng)
	logits := s.pass.Forward()
	clear(s.grad)
	s.sums.loss, s.sums.frames = crossEntropy(logits, s.labels, 1, s.pass.LogitGradient())
	s.pass.Backward(s.grad)
}

// validate returns the mean loss and the share of right frames over the people
// kept aside, as their recordings are; NaN if there are none.
func (t *Trainer) validate() (loss, accuracy float64) {
	var sum lossSums
	right := 0
	p := NewPass(t.net, false)
	var labels []int8
	for _, i := range t.aside {
		e := &t.examples[i]
		in := p.Input(e.Frames)
		for k := range e.Frames {
			e.interpolate(in, k, float64(k)+0.5)
		}
		labels = e.labels(labels[:0])
		logits := p.Forward()
		l, n := crossEntropy(logits, labels, 1, blas32.General{})
		sum.loss += l
		sum.frames += n
		right += matches(logits, labels)
	}
	if sum.frames == 0 {
		return math.NaN(), math.NaN()
	}
	return sum.mean(), float64(right) / float64(sum.frames)
}

// matches counts the labelled frames whose largest logit is that of the label.
func matches(logits blas32.General, labels []int8) int {
	n := 0
	for t, label := range labels {
		if label == unlabelled {
			continue
		}
		largest := 0
		for s := range logits.Rows {
			if logits.Data[s*logits.Stride+t] > logits.Data[largest*logits.Stride+t] {
				largest = s
			}
		}
		if largest == int(label) {
			n++
		}
	}
	return n
}

// stateName returns the name of the state with label s.
func stateName(s int) string { return (pcg.S1 + pcg.State(s)).String() }
