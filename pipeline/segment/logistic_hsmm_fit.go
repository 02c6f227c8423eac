package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
)

// logisticFitOptions are the choices of fitting logistic-hsmm.
type logisticFitOptions struct {
	LogEnvelopes bool    `yaml:"log-envelopes"`
	Context      int     `yaml:"context"`
	L2           float64 `yaml:"l2"`
}

func defaultLogisticFitOptions() *logisticFitOptions {
	return &logisticFitOptions{LogEnvelopes: true, Context: 2, L2: 1}
}

// Options implements [option.Set].
func (o *logisticFitOptions) Options() []option.Option {
	return []option.Option{
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
	}
}

// fitLogisticHSMM is the Fit of the method logistic-hsmm. The paper balances the
// classes of each regression by drawing as many frames of one as of the other;
// we weight them, which has the same expectation and wastes no frame.
func fitLogisticHSMM(ctx context.Context, options any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	o := options.(*logisticFitOptions)
	left := 0
	set, err := collectFrames(newFeatureFrames(o.LogEnvelopes, o.Context), usable(ctx, examples, &left))
	if err != nil {
		return nil, err
	}
	how.say("%d frames of %d recordings to learn from, %d left out", len(set.states), len(set.references), left)
	m := &logisticModel{LogEnvelopes: o.LogEnvelopes, Context: o.Context, Exchange: logisticExchange}
	if m.Priors, err = statePriors(set.references); err != nil {
		return nil, err
	}
	if m.Timing, err = estimateRegression(set.references); err != nil {
		return nil, err
	}
	for j, state := range pcg.Cycle {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r := logisticRegression{x: set.features, width: width(o.Context), y: make([]bool, len(set.states)), l2: o.L2}
		for i, s := range set.states {
			r.y[i] = s == state
		}
		if m.Weights[j], err = r.fit(); err != nil {
			return nil, fmt.Errorf("%v: %w", state, err)
		}
		how.say("fitted %v", state)
	}
	return json.Marshal(m)
}

// frameSet holds the annotated frames of many recordings.
type frameSet struct {
	features   []float64 // rows of width values
	states     []pcg.State
	references [][]pcg.Interval
}

// collectFrames measures the annotated frames of the examples.
func collectFrames(f featureFrames, examples iter.Seq2[Example, error]) (*frameSet, error) {
	set := new(frameSet)
	wave := signal.NewWaveform(nil)
	for e, err := range examples {
		if err != nil {
			return nil, err
		}
		wave.Set(e.X)
		if err := f.load(wave); err != nil {
			return nil, err
		}
		for t, s := range annotatedFrames(f.frames(), e.Reference.Intervals) {
			set.features = f.appendRow(set.features, t)
			set.states = append(set.states, s)
		}
		set.references = append(set.references, e.Reference.Intervals)
	}
	return set, nil
}
