package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
)

// logisticFitOptions are the choices of fitting logistic-hsmm.
type logisticFitOptions struct {
	LogEnvelopes bool    `yaml:"log-envelopes"`
	Context      int     `yaml:"context"`
	L2           float64 `yaml:"l2"`
	Floor        float64 `yaml:"floor-quantile"`
	CopyWeight   float64 `yaml:"copies-weight"`
	Seed         uint64  `yaml:"seed"`

	Copies changedCopies `yaml:"copies"`
}

func defaultLogisticFitOptions() *logisticFitOptions {
	return &logisticFitOptions{
		LogEnvelopes: true, Context: 2, L2: 1, CopyWeight: 0.5, Seed: 1,
		Copies: changedCopies{Number: 0, LowestSNR: -5, HighestSNR: 20, BandLimited: 0.3},
	}
}

// Options implements [option.Set].
func (o *logisticFitOptions) Options() []option.Option {
	return append([]option.Option{
		{
			Key: "log-envelopes", Value: &o.LogEnvelopes, About: "Use of the logarithm of the envelopes, taken before they are standardised",
			Paper: false, Source: springer2016, Default: bestInFolds,
		},
		{
			Key: "context", Value: &o.Context, About: "Number of frames on each side that are observed together with each frame", Unit: "frames",
			Low: 0, High: maxContext, Paper: 0, Source: springer2016, Default: bestInFolds,
		},
		{
			Key: "l2", Value: &o.L2, About: "Penalty: factor of half the sum of the squares of the weights, intercepts apart",
			Low: 1e-9, High: 1e9, Default: "Next to thousands of frames it only keeps the problem well posed",
		},
		{Key: "floor-quantile", Value: &o.Floor, About: "Floor", Low: 0, High: 0.999},
		{Key: "copies-weight", Value: &o.CopyWeight, About: "Share of the weight of all frames that those of the changed copies have", Low: 0, High: 0.999},
		{Key: "seed", Value: &o.Seed, About: "Seed of the changed copies"},
	}, o.Copies.options()...)
}

// fitLogisticHSMM is the Fit of the method logistic-hsmm. The paper balances the
// classes of each regression by drawing as many frames of one as of the other;
// we weight them, which has the same expectation and wastes no frame.
func fitLogisticHSMM(ctx context.Context, options any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	o := options.(*logisticFitOptions)
	left := 0
	set, err := collectFrames(o, usable(ctx, examples, &left), how.Workers)
	if err != nil {
		return nil, err
	}
	how.say("%d frames of %d recordings to learn from, %d left out", len(set.states), len(set.references), left)
	m := &logisticModel{Floor: o.Floor, LogEnvelopes: o.LogEnvelopes, Context: o.Context, Exchange: logisticExchange}
	if m.Priors, err = statePriors(set.references); err != nil {
		return nil, err
	}
	if m.Timing, err = estimateRegression(set.references); err != nil {
		return nil, err
	}
	var group errgroup.Group
	group.SetLimit(max(1, how.Workers))
	for j, state := range pcg.Cycle {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			r := logisticRegression{x: set.features, width: width(o.Context), y: make([]bool, len(set.states)), weights: set.weights, l2: o.L2}
			for i, s := range set.states {
				r.y[i] = s == state
			}
			var err error
			if m.Weights[j], err = r.fit(); err != nil {
				return fmt.Errorf("%v: %w", state, err)
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	return json.Marshal(m)
}

// frameSet holds the annotated frames of many recordings.
type frameSet struct {
	features   []float64 // rows of width values
	states     []pcg.State
	weights    []float64
	references [][]pcg.Interval
}

// collectFrames measures the annotated frames of the examples and of their copies.
func collectFrames(o *logisticFitOptions, examples iter.Seq2[Example, error], workers int) (*frameSet, error) {
	type measurer struct {
		features featureFrames
		wave     *signal.Waveform
	}
	parts, err := measureAll(workers, examples, func() *measurer {
		return &measurer{newFeatureFrames(o.LogEnvelopes, o.Context, o.Floor), signal.NewWaveform(nil)}
	}, func(m *measurer, e *Example) (frameSet, error) {
		set := frameSet{references: [][]pcg.Interval{e.Reference.Intervals}}
		add := func(x []float64, every, from int, weight float64) error {
			m.wave.Set(x)
			if err := m.features.load(m.wave); err != nil {
				return err
			}
			for t, s := range annotatedFrames(m.features.frames(), e.Reference.Intervals) {
				if t%every != from {
					continue
				}
				set.features = m.features.appendRow(set.features, t)
				set.states = append(set.states, s)
				set.weights = append(set.weights, weight)
			}
			return nil
		}
		if o.Copies.Number == 0 {
			return set, add(e.X, 1, 0, 1)
		}
		if err := add(e.X, 1, 0, 1-o.CopyWeight); err != nil {
			return set, err
		}
		k := 0
		for x, err := range o.Copies.of(e.Recording, e.X, o.Seed) {
			if err == nil {
				err = add(x, o.Copies.Number, k, o.CopyWeight)
				k++
			}
			if err != nil {
				return set, err
			}
		}
		return set, nil
	})
	whole := new(frameSet)
	for _, p := range parts {
		whole.features = append(whole.features, p.features...)
		whole.states = append(whole.states, p.states...)
		whole.weights = append(whole.weights, p.weights...)
		whole.references = append(whole.references, p.references...)
	}
	return whole, err
}
