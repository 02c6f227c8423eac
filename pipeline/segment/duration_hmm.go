package segment

import (
	"context"
	"math"
	"slices"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/option"
)

// durationHMM is the method of Schmidt et al. 2010.
//
// The homomorphic envelope, one value per frame of 20 ms, is the observation;
// in each state it is normally distributed. The autocorrelation of the envelope
// gives the cycle length and the systolic interval, these give the sojourn
// distributions (publishedSojourns), and package hsmm finds the likeliest path.
var durationHMM = Method{
	Name:  "duration-hmm",
	Title: "duration-dependent hidden Markov model on the homomorphic envelope",
	Paper: citation.Work{
		Authors: []string{"Schmidt SE", "Holst-Hansen C", "Graff C", "Toft E", "Struijk JJ"}, Title: "Segmentation of heart sound recordings by a duration-dependent hidden Markov model",
		Journal: "Physiol Meas", Year: 2010, Volume: "31", Number: "4", Pages: "513-529", DOI: "10.1088/0967-3334/31/4/004",
	},
	Differs: []string{
		"The observation is the logarithm of the envelope, standardised in each recording, so that the gain of the microphone is of no consequence.",
		"The distributions of the observation come from the references that a model was fitted to: for the built-in model those of CirCor, for the paper its own recordings (from memory).",
		"The states at both ends may reach beyond the recording.",
		"All four states are cut at three standard deviations. How the paper cuts systole is not known to us.",
	},
	Defaults: func() any { return defaultDurationOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		m, err := ParseModel(model, "duration-hmm")
		if err != nil {
			return nil, err
		}
		s := &durationSegmenter{options: *options.(*durationOptions), frontEnd: newFrontEnd()}
		return s, readParams(m.Params, &s.model)
	},
	FitDefaults: func() any { return new(option.None) },
	Fit:         fitDurationHMM,
}

// durationOptions are the choices of the method duration-hmm.
type durationOptions struct {
	Rates      `yaml:",inline"`
	Hypotheses int               `yaml:"hypotheses"`
	Timing     publishedSojourns `yaml:"timing"`
}

func defaultDurationOptions() *durationOptions {
	return &durationOptions{
		Rates:      defaultRates(),
		Hypotheses: 5,
		Timing:     schmidtSojourns(),
	}
}

// Options implements [option.Set].
func (o *durationOptions) Options() []option.Option {
	source := option.FromMemory("Schmidt et al. 2010", "high")
	return slices.Concat(o.Rates.options(30, 120, source), []option.Option{{
		Key: "hypotheses", Value: &o.Hypotheses, About: "Number of peaks of the autocorrelation that are tried as cycle lengths; the likeliest is kept",
		Low: 1, High: 100, Paper: 1, Source: source,
		Default: "Over so wide a range of rates the highest peak is often that of a systole or of two cycles. Beyond five nothing changed on the recordings of CirCor",
	}}, o.Timing.options())
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
