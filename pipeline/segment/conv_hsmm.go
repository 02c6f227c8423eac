package segment

import (
	"context"
	"fmt"
	"math"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/network"
	"phonocycle/pipeline/segment/option"
)

// convHSMM joins the packages network and hsmm. The idea of a network that
// feeds a hidden Markov model is that of Bourlard and Morgan 1994; for heart
// sounds it was taken up by Renna, Oliveira and Coimbra 2019.
var convHSMM = Method{
	Name:  "conv-hsmm",
	Title: "dilated convolutional network and hidden semi-Markov model",
	Paper: citation.Work{
		Authors: []string{"Renna F", "Oliveira J", "Coimbra MT"}, Title: "Deep convolutional neural networks for heart sound segmentation",
		Journal: "IEEE J Biomed Health Inform", Year: 2019, Volume: "23", Pages: "2435-2445", DOI: "10.1109/JBHI.2019.2894222",
	},
	Differs:  []string{"The paper gives the idea. Network, features, training and decoding are this project's, and so are all options."},
	Defaults: func() any { return defaultConvOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		m, err := ParseModel(model, "conv-hsmm")
		if err != nil {
			return nil, err
		}
		return newConvSegmenter(options.(*convOptions), m.Params)
	},
	FitDefaults: func() any { return defaultConvFitOptions() },
	Fit:         fitConvHSMM,
}

// convOptions are the choices of the method conv-hsmm in decoding. None of them
// needs another model.
type convOptions struct {
	Rates  `yaml:",inline"`
	Temper float64 `yaml:"temper"`
}

func defaultConvOptions() *convOptions {
	return &convOptions{Rates: defaultRates(), Temper: 0.5}
}

// Options implements [option.Set].
func (o *convOptions) Options() []option.Option {
	return append(o.Rates.options(nil, nil, option.Source{}),
		temperOption(&o.Temper, nil, option.Source{}, "The best of 0.3, 0.5, 0.7 and 1 in cross-validation by person on CirCor, where all four lay within 0.1 % of F1"))
}

// convSegmenter is the method conv-hsmm: a convolutional network says how probable
// each state is in each frame, and a hidden semi-Markov model, whose sojourns
// follow the cycle length, finds the likeliest path.
//
// A network estimates posteriors P(state | sound); the model wants likelihoods
// P(sound | state), in proportion to the posterior over the state's prior
// (Bourlard and Morgan 1994, Connectionist Speech Recognition, doi
// 10.1007/978-1-4615-3210-1, from memory). With p the posterior, π the prior and the
// temper α, a frame's log-likelihood is ℓ = α (ln p − ln π).
type convSegmenter struct {
	model     *convModel
	options   convOptions
	search    *rhythmSearch
	frontEnd  *network.FrontEnd
	pass      *network.Pass
	path      pathFinder
	posterior []float64 // log posteriors, four per frame
	emission  []float64 // ℓ, four per frame
	work      []float64
}

// newConvSegmenter makes a segmenter with the parameters that the Fit of the
// method returned.
func newConvSegmenter(o *convOptions, params []byte) (*convSegmenter, error) {
	m := new(convModel)
	if err := readParams(params, m); err != nil {
		return nil, err
	}
	f, err := network.NewFrontEnd(m.FrontEnd)
	if err != nil {
		return nil, fmt.Errorf("model: %w", err)
	}
	// Best paths give no boundary any width, so that tempering adds no blur.
	return &convSegmenter{
		model: m, options: *o, search: newRhythmSearch(o.Rates, m.Timing, (*hsmm.Decoder).BestScores, 0),
		frontEnd: f, pass: network.NewPass(m.Network),
	}, nil
}

// Segment implements Segmenter. The confidence is the mean posterior probability
// of the states given, the share of the recording that the network expects to be
// right.
func (c *convSegmenter) Segment(ctx context.Context, in *Input) (pcg.Segmentation, error) {
	if err := c.observe(in.X); err != nil {
		return pcg.Segmentation{}, err
	}
	r, err := c.search.best(ctx, &c.path.decoder)
	if err != nil {
		return pcg.Segmentation{}, err
	}
	s := c.path.find(ectopicSojourns{c.model.Timing}, r, len(in.X))
	a := assess(c.posterior, c.path.runs)
	s.Confidence, s.ExchangeProbability = a.own, c.model.Exchange.probability(a.margin)
	return s, nil
}

// observe runs the network over the recording x, fills posterior and emission, and
// loads the decoder.
func (c *convSegmenter) observe(x []float64) error {
	if err := checkInput(x); err != nil {
		return err
	}
	c.frontEnd.Measure(c.pass, x)
	logits := c.pass.Forward()
	c.posterior = grow(c.posterior, 4*logits.Rows)
	c.emission = grow(c.emission, 4*logits.Rows)
	for t := range logits.Rows {
		for j, z := range logits.Row(t) {
			if v := float64(z); math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("the network gives %v for %v at %.2f s: the model is damaged; fit it anew", z, pcg.Cycle[j], float64(t)/frameRate)
			}
			c.posterior[4*t+j] = float64(z)
		}
	}
	c.work = normaliseLogs(c.posterior, c.work)
	var logPrior [4]float64
	for j, prior := range c.model.Priors {
		logPrior[j] = math.Log(prior)
	}
	for i, p := range c.posterior {
		c.emission[i] = c.options.Temper * (p - logPrior[i%4])
	}
	c.path.decoder.Load(c.emission)
	return nil
}
