package segment

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
)

// durationHMM is the method of Schmidt et al. 2010.
//
// The homomorphic envelope, one value per frame of 20 ms, is the observation;
// in each state it is normally distributed. The autocorrelation of the envelope
// gives the cycle length and the systolic interval, these give the sojourn
// distributions (publishedSojourns), and package hsmm finds the likeliest path.
//
// It departs from the paper in five points:
//   - Heart rates reach to 220 a minute by default.
//   - Several peaks of the autocorrelation are tried as cycle lengths and the
//     likeliest is kept (hypotheses; the paper's is 1): over so wide a range the
//     highest is often that of a systole or of two cycles.
//   - The observation is the logarithm of the envelope, standardised in each
//     recording, so that the gain of the microphone is of no consequence.
//   - The distributions of the observation come from the references that a model
//     was fitted to; for the embedded one, those of CirCor.
//   - The states at both ends may reach beyond the recording.
var durationHMM = Method{
	Name:  "duration-hmm",
	Title: "duration-dependent hidden Markov model on the homomorphic envelope",
	Citation: "Schmidt SE, Holst-Hansen C, Graff C, Toft E, Struijk JJ. Segmentation of heart sound recordings " +
		"by a duration-dependent hidden Markov model. Physiol Meas 2010;31:513-529",
	DOI:      "10.1088/0967-3334/31/4/004",
	Defaults: func() any { return defaultDurationOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		o := options.(*durationOptions)
		if err := o.check(); err != nil {
			return nil, err
		}
		m, err := ParseModel(model, "duration-hmm")
		if err != nil {
			return nil, err
		}
		s := &durationSegmenter{options: *o, frontEnd: newFrontEnd()}
		return s, readParams(m.Params, &s.model)
	},
	FitDefaults: func() any { return &durationFitOptions{} },
	Fit:         fitDurationHMM,
}

// durationOptions are the choices of the method duration-hmm.
type durationOptions struct {
	Rates `yaml:",inline"`

	// Hypotheses is the number of peaks of the autocorrelation that are tried as
	// cycle lengths; the likeliest is kept. The paper takes the highest peak.
	Hypotheses int `yaml:"hypotheses" json:"hypotheses"`

	Timing publishedSojourns `yaml:"timing" json:"timing"`
}

// defaultDurationOptions returns the constants of the paper and five hypotheses,
// beyond which nothing changed on the recordings of CirCor.
func defaultDurationOptions() *durationOptions {
	return &durationOptions{
		Rates:      defaultRates(),
		Hypotheses: 5,
		Timing:     schmidtSojourns(),
	}
}

func (o *durationOptions) check() error {
	if o.Hypotheses < 1 || o.Hypotheses > 100 {
		return fmt.Errorf("hypotheses %d: want 1 to 100", o.Hypotheses)
	}
	return cmp.Or(o.Rates.check(), o.Timing.check())
}

// durationSegmenter is a segmenter by the method duration-hmm.
type durationSegmenter struct {
	options  durationOptions
	model    durationModel
	frontEnd *frontEnd
	rhythms  rhythmFinder
	path     pathFinder
	envelope []float64
	emission []float64
	work     []float64
}

// Segment implements Segmenter. The confidence is the mean over frames of the
// probability that the frame holds a sound, S1 or S2, or none, as the path has
// it, by the emissions alone.
func (d *durationSegmenter) Segment(ctx context.Context, in *Input) (pcg.Segmentation, error) {
	if err := ctx.Err(); err != nil {
		return pcg.Segmentation{}, err
	}
	if err := d.frontEnd.load(in.Waveform); err != nil {
		return pcg.Segmentation{}, err
	}
	d.envelope = d.frontEnd.homomorphicFrames(d.envelope)
	standardLog(d.envelope)
	d.observe()
	s := d.path.find(d.options.Timing, d.chooseRhythm(), len(in.X))
	d.work = normaliseLogs(d.emission, d.work)
	s.Confidence, s.ExchangeProbability = assess(d.emission, d.path.runs).loudness, math.NaN()
	return s, nil
}

// chooseRhythm returns the likeliest of the rhythms that the autocorrelation
// offers.
func (d *durationSegmenter) chooseRhythm() rhythm {
	candidates := d.rhythms.find(d.envelope, d.options.Rates, d.options.Hypotheses)
	if len(candidates) == 1 {
		return candidates[0]
	}
	tried := make([]*hsmm.Sojourns, len(candidates))
	for i, r := range candidates {
		tried[i] = new(hsmm.Sojourns)
		d.options.Timing.set(tried[i], r)
	}
	best, choice := math.Inf(-1), candidates[0]
	for i, l := range d.path.decoder.Likelihoods(tried) {
		if l > best {
			best, choice = l, candidates[i]
		}
	}
	return choice
}

// observe loads the log-likelihoods of the envelope into the decoder.
func (d *durationSegmenter) observe() {
	d.emission = grow(d.emission, 4*len(d.envelope))
	states := d.model.Emission.states()
	for t, v := range d.envelope {
		for j, g := range states {
			d.emission[4*t+j] = g.logDensity(v)
		}
	}
	d.path.decoder.Load(d.emission)
}
