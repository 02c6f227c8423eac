package network

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/option"
)

// Progress is what training tells of itself after each epoch.
type Progress struct {
	Epoch, Epochs      int     // epochs done and to do in all
	TrainingLoss       float64 // mean cross-entropy of a frame in nats, over the epoch
	ValidationLoss     float64 // the same over the people kept aside; NaN without any
	ValidationAccuracy float64 // share of their frames whose likeliest state is right; NaN without any
	LearningRate       float64 // of the last step
	FramesPerSecond    float64 // annotated frames learnt from, by wall clock
	Remaining          time.Duration
}

// Trainer is training in progress. It is made by NewTrainer, advanced by Run, and
// can be saved between runs.
type Trainer struct {
	options  Options
	examples []Example
	windows  []window // of the people learnt from
	aside    []int    // examples of the people kept aside
	schedule schedule

	net       *Network
	adam      *adamW
	epoch     lossSums // of the epoch in progress
	best      *Network // nil before the first epoch is done
	bestLoss  float64
	bestEpoch int

	kernels *kernels // of net, for all slots
	slots   []slot
	sum     []float32 // gradient of the batch, in the order of the kernels
	grad    []float32 // the same in the order of the weights
	print   string    // fingerprint, once it is known
	order   []int     // of the windows in the epoch in progress
}

// NewTrainer prepares training on the examples. It refuses examples that the
// network cannot read and sets in which a state never occurs.
func NewTrainer(examples []Example, o Options) (*Trainer, error) {
	if err := option.Check(o.Options()); err != nil {
		return nil, fmt.Errorf("training: %w", err)
	}
	t := &Trainer{options: o, examples: examples, bestLoss: math.MaxFloat64}
	aside, seen := keptAside(examples, o.Validation, o.Seed), make(map[pcg.State]bool)
	for i := range examples {
		e := &examples[i]
		if err := e.check(o.Architecture.Bands); err != nil {
			return nil, fmt.Errorf("training: %w", err)
		}
		if aside[e.Person] {
			t.aside = append(t.aside, i)
			continue
		}
		for _, iv := range e.Intervals {
			seen[iv.State] = true
		}
		t.windows = append(t.windows, e.windows(i, o.Window)...)
	}
	for _, s := range pcg.Cycle {
		if !seen[s] {
			return nil, fmt.Errorf("training: no %v in %d recordings to learn from: a network cannot learn what it never sees; add recordings, or check the state codes of the layout",
				s, len(examples)-len(t.aside))
		}
	}
	t.net = New(o.Architecture, o.Seed)
	t.adam = newAdamW(t.net, o.Decay)
	t.schedule = schedule{peak: o.Peak, steps: o.Epochs * t.stepsPerEpoch()}
	t.kernels = newKernels(t.net, true)
	t.sum, t.grad = make([]float32, len(t.kernels.forward)), make([]float32, len(t.net.Weights))
	for range min(o.Batch, len(t.windows)) {
		t.slots = append(t.slots, slot{pass: newPass(t.net, t.kernels), grad: make([]float32, len(t.sum))})
	}
	return t, nil
}

// keptAside draws the people kept aside: the share of all, rounded, but never
// everybody.
func keptAside(examples []Example, share float64, seed uint64) map[string]bool {
	var people []string
	for _, e := range examples {
		people = append(people, e.Person)
	}
	slices.Sort(people)
	people = slices.Compact(people)
	n := min(int(math.Round(share*float64(len(people)))), len(people)-1)
	aside := make(map[string]bool)
	for _, i := range stream(seed, streamSplit, 0, 0).Perm(len(people))[:max(n, 0)] {
		aside[people[i]] = true
	}
	return aside
}

func (t *Trainer) stepsPerEpoch() int {
	return (len(t.windows) + t.options.Batch - 1) / t.options.Batch
}

// Size returns the numbers of examples learnt from and kept aside.
func (t *Trainer) Size() (learnt, aside int) {
	return len(t.examples) - len(t.aside), len(t.aside)
}

// Best returns the network of the epoch with the least loss on the people kept
// aside, or of the last epoch where nobody is, and the number of that epoch. It
// is nil before the first epoch is done.
func (t *Trainer) Best() (best *Network, epoch int) { return t.best, t.bestEpoch }

// Run trains to the end, on the given number of goroutines, and calls progress,
// which may be nil, after each epoch. Where ctx ends first, or progress returns
// an error, it returns that error; Best has the best network so far, and the
// trainer can be saved, or run on.
func (t *Trainer) Run(ctx context.Context, workers int, progress func(Progress) error) error {
	start := time.Now()
	firstStep, frames := t.adam.Step, 0
	for t.adam.Step < t.schedule.steps {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("training stopped in epoch %d of %d: %w", t.adam.Step/t.stepsPerEpoch()+1, t.options.Epochs, err)
		}
		before := t.epoch.frames
		if err := t.step(workers); err != nil {
			return err
		}
		frames += t.epoch.frames - before
		if t.adam.Step%t.stepsPerEpoch() != 0 {
			continue
		}
		p := t.finishEpoch()
		if progress != nil {
			elapsed := time.Since(start)
			p.FramesPerSecond = float64(frames) / elapsed.Seconds()
			share := float64(t.schedule.steps-t.adam.Step) / float64(t.adam.Step-firstStep)
			p.Remaining = time.Duration(share * float64(elapsed))
			if err := progress(p); err != nil {
				return err
			}
		}
	}
	return nil
}

// finishEpoch measures the network on the people kept aside and keeps it if it is
// the best so far.
func (t *Trainer) finishEpoch() Progress {
	loss, accuracy := validate(t.net, t.examples, t.aside)
	epoch := t.adam.Step / t.stepsPerEpoch()
	if len(t.aside) == 0 || loss < t.bestLoss {
		t.best = &Network{Architecture: t.net.Architecture, Weights: slices.Clone(t.net.Weights), layers: t.net.layers}
		t.bestEpoch = epoch
		if len(t.aside) > 0 {
			t.bestLoss = loss
		}
	}
	p := Progress{
		Epoch: epoch, Epochs: t.options.Epochs, TrainingLoss: t.epoch.mean(),
		ValidationLoss: loss, ValidationAccuracy: accuracy, LearningRate: t.schedule.rate(t.adam.Step - 1),
	}
	t.epoch = lossSums{}
	return p
}

// step learns from the next batch.
func (t *Trainer) step(workers int) error {
	per := t.stepsPerEpoch()
	epoch, k := t.adam.Step/per, t.adam.Step%per
	if k == 0 || t.order == nil {
		t.order = stream(t.options.Seed, streamOrder, epoch, 0).Perm(len(t.windows))
	}
	batch := t.order[k*t.options.Batch : min((k+1)*t.options.Batch, len(t.order))]
	var group errgroup.Group
	group.SetLimit(max(1, workers))
	for i, w := range batch {
		group.Go(func() error {
			t.slots[i].learn(&t.examples[t.windows[w].example], t.windows[w], &t.options, stream(t.options.Seed, streamWindow, epoch, w))
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	return t.update(t.slots[:len(batch)])
}

// update adds the gradients of the slots in their order and changes the weights.
func (t *Trainer) update(slots []slot) error {
	var batch lossSums
	clear(t.sum)
	for _, s := range slots {
		batch.add(s.sums)
		for i, v := range s.grad {
			t.sum[i] += v
		}
	}
	t.net.layers.unpack(t.grad, t.sum)
	t.epoch.add(batch)
	scale := 1 / float64(max(1, batch.frames))
	length := norm(t.grad) * scale
	if math.IsNaN(length) || math.IsInf(length, 0) {
		return fmt.Errorf("training diverged at step %d: gradient of length %v: lower peak-rate, %g", t.adam.Step+1, length, t.options.Peak)
	}
	if length > t.options.Clip {
		scale *= t.options.Clip / length
	}
	for i := range t.grad {
		t.grad[i] *= float32(scale)
	}
	t.adam.Update(t.net.Weights, t.grad, t.schedule.rate(t.adam.Step))
	t.kernels.set(t.net.Weights)
	return nil
}

// norm returns the Euclidean length of x.
func norm(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum)
}
