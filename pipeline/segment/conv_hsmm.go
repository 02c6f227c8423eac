package segment

import (
	"context"
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/network"
)

// ConvOptions are the choices of the method conv-hsmm in decoding. None of them
// needs another model.
type ConvOptions struct {
	Rates `yaml:",inline"`

	// Temper multiplies the log-likelihoods of the frames. Frames of 20 ms seen
	// through a window of 64 ms are not independent; taking them for independent
	// counts the same evidence more than once against the laws of the sojourns.
	Temper float64 `yaml:"temper" json:"temper"`
}

// DefaultConvOptions searches 30 to 220 beats a minute and halves the
// log-likelihoods, the best of 0.3, 0.5, 0.7 and 1 in cross-validation by person
// on the CirCor recordings, where all four lay within 0.1 % of F1.
func DefaultConvOptions() *ConvOptions {
	return &ConvOptions{Rates: DefaultRates(), Temper: 0.5}
}

func (o *ConvOptions) check() error {
	if err := o.Rates.check(); err != nil {
		return fmt.Errorf("conv-hsmm: %w", err)
	}
	if !(o.Temper > 0 && o.Temper <= 1) {
		return fmt.Errorf("conv-hsmm: temper %g: want more than 0 and at most 1", o.Temper)
	}
	return nil
}

// convModel is what fitting conv-hsmm estimates.
type convModel struct {
	FrontEnd network.FrontEndOptions `json:"front_end"`
	Network  *network.Network        `json:"network"`
	Priors   [4]float64              `json:"state_priors"` // shares of annotated time
	Timing   *sojournRegression      `json:"timing"`
	Exchange exchangeLaw             `json:"exchange"`
}

// parseConvModel reads the parameters of a model and refuses those that cannot
// be used.
func parseConvModel(data []byte) (*convModel, error) {
	m := new(convModel)
	return m, readParams("conv-hsmm", data, m)
}

func (m *convModel) check() error {
	switch {
	case m.Network == nil:
		return fmt.Errorf("no network: was it fitted for another method?")
	case m.Timing == nil:
		return fmt.Errorf("no sojourn laws")
	case m.Network.Architecture.States != len(pcg.Cycle):
		return fmt.Errorf("network of %d states: want %d", m.Network.Architecture.States, len(pcg.Cycle))
	case m.Network.Architecture.Bands != m.FrontEnd.Bank.Bands:
		return fmt.Errorf("network for %d bands behind a filter bank of %d: the model was made for other bands", m.Network.Architecture.Bands, m.FrontEnd.Bank.Bands)
	}
	if err := checkPriors(m.Priors); err != nil {
		return err
	}
	return m.Timing.check()
}

// ConvHSMM is the method conv-hsmm: a convolutional network says how probable
// each state is in each frame, and a hidden semi-Markov model, whose sojourn laws
// follow the cycle length, finds the likeliest path.
//
// A network estimates posteriors P(state | sound); the model wants likelihoods
// P(sound | state), in proportion to the posterior over the state's prior
// (Bourlard and Morgan 1994, Connectionist Speech Recognition, doi
// 10.1007/978-1-4615-3210-1, from memory). With p the posterior, π the prior and the
// temper α, a frame's log-likelihood is ℓ = α (ln p − ln π).
type ConvHSMM struct {
	model     *convModel
	options   ConvOptions
	search    *rhythmSearch
	frontEnd  *network.FrontEnd
	pass      *network.Pass
	decoder   Decoder
	laws      Laws
	runs      []Run
	posterior []float64 // log posteriors, four a frame
	emission  []float64 // ℓ, four a frame
}

// NewConvHSMM makes a segmenter with the parameters that a ConvFit has estimated.
func NewConvHSMM(o *ConvOptions, params []byte) (*ConvHSMM, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	m, err := parseConvModel(params)
	if err != nil {
		return nil, err
	}
	f, err := network.NewFrontEnd(m.FrontEnd, Rate)
	if err != nil {
		return nil, fmt.Errorf("conv-hsmm: model: %w", err)
	}
	return &ConvHSMM{
		model: m, options: *o, search: newRhythmSearch(o.Rates, m.Timing, bestPath),
		frontEnd: f, pass: network.NewPass(m.Network, false),
	}, nil
}

// Segment implements Segmenter. The confidence is the mean posterior probability
// of the states given, the share of the recording that the network expects to be
// right.
func (c *ConvHSMM) Segment(ctx context.Context, x []float64, fs float64) (pcg.Segmentation, error) {
	if err := c.listen(x, fs); err != nil {
		return pcg.Segmentation{}, err
	}
	r, err := c.search.likeliest(ctx, &c.decoder)
	if err != nil {
		return pcg.Segmentation{}, err
	}
	return c.decode(r, len(x)), nil
}

// SegmentPerson segments recordings of one person jointly: the S1–S2 intervals of
// all depart from what their cycle lengths let expect by a common part, see
// sojournRegression. It returns one segmentation a recording, in their order; the first
// error ends it and names the recording by its place, from 1.
func (c *ConvHSMM) SegmentPerson(ctx context.Context, recordings [][]float64, fs float64) ([]pcg.Segmentation, error) {
	all := make([][]rhythm, len(recordings))
	for i, x := range recordings {
		err := c.listen(x, fs)
		if err == nil {
			all[i], err = c.search.rhythms(ctx, &c.decoder)
		}
		if err != nil {
			return nil, fmt.Errorf("recording %d of %d: %w", i+1, len(recordings), err)
		}
	}
	chosen := chooseRhythms(all, c.search.grid.shifts, c.model.Timing.person())
	out := make([]pcg.Segmentation, len(recordings))
	for i, x := range recordings {
		if err := c.listen(x, fs); err != nil {
			return nil, err
		}
		out[i] = c.decode(chosen[i], len(x))
	}
	return out, nil
}

// decode finds the path under a rhythm of the recording of n samples that was
// listened to last.
func (c *ConvHSMM) decode(r rhythm, n int) pcg.Segmentation {
	c.model.Timing.Laws(&c.laws, r.hypothesis)
	c.decoder.Decode(&c.laws)
	c.runs = c.decoder.Runs(c.runs[:0])
	s := pcg.Segmentation{
		Intervals:   intervals(c.runs, n),
		CycleLength: pcg.FromSeconds(r.hypothesis.Cycle),
	}
	s.Confidence, s.ExchangeProbability = c.judge(c.runs)
	return s
}

// listen runs the network over the recording x, fills posterior and emission, and
// loads the decoder.
func (c *ConvHSMM) listen(x []float64, fs float64) error {
	if err := checkInput(x, fs); err != nil {
		return err
	}
	c.frontEnd.Measure(c.pass, x)
	logits := c.pass.Forward()
	network.LogPosteriors(logits)
	n := logits.Cols
	c.posterior = grow(c.posterior, 4*n)
	c.emission = grow(c.emission, 4*n)
	for j, prior := range c.model.Priors {
		row := logits.Data[j*logits.Stride : j*logits.Stride+n]
		for t, p := range row {
			if v := float64(p); math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("conv-hsmm: the network gives %v for %v at %.2f s: the model is damaged; fit it anew", p, pcg.Cycle[j], float64(t)/FrameRate)
			}
			c.posterior[4*t+j] = float64(p)
			c.emission[4*t+j] = c.options.Temper * (float64(p) - math.Log(prior))
		}
	}
	c.decoder.Load(c.emission)
	return nil
}

// judge returns the mean posterior along a path and the probability that its
// sounds are exchanged.
func (c *ConvHSMM) judge(runs []Run) (confidence, exchanged float64) {
	var sum, margin float64
	for _, r := range runs {
		j, k := r.State-pcg.S1, r.State.Exchanged()-pcg.S1
		for t := r.Start; t < r.End; t++ {
			row := c.posterior[4*t : 4*t+4]
			sum += math.Exp(row[j])
			margin += row[j] - row[k]
		}
	}
	n := float64(len(c.posterior) / 4)
	return math.Min(sum/n, 1), c.model.Exchange.probability(margin / n)
}

// convExchange is a logistic regression of exchanges on margins, the mean over
// frames of the log posterior along the path less that along the exchanged one, of the
// 558 CirCor recordings, each segmented by a model of other people (10 folds):
// 12 were exchanged, and a margin was the lower in an exchanged one with
// probability 0.86.
var convExchange = exchangeLaw{Intercept: -0.15, Slope: 0.66}
