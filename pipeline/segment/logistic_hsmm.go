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

// logisticHSMM is the method of Springer, Tarassenko and Clifford 2016, taken
// further where measurements on children asked for it.
//
// Four envelopes, one value per frame of 20 ms and standardised in each
// recording, are the observation: homomorphic, Hilbert, power in 40 to 60 Hz and
// the details of an undecimated wavelet transform in 62.5 to 125 Hz. A logistic
// regression of each state against all others says how probable the state is,
// Bayes' rule makes likelihoods of it, and package hsmm finds the likeliest path.
var logisticHSMM = Method{
	Name:  "logistic-hsmm",
	Title: "logistic regression and hidden semi-Markov model",
	Paper: citation.Work{
		Authors: []string{"Springer DB", "Tarassenko L", "Clifford GD"}, Title: "Logistic regression-HSMM-based heart sound segmentation",
		Journal: "IEEE Trans Biomed Eng", Year: 2016, Volume: "63", Number: "4", Pages: "822-832", DOI: "10.1109/TBME.2015.2475278",
	},
	Differs: []string{
		"The regressions are fitted to all annotated frames, with weights that make the classes equal, where the paper draws as many frames of one class as of the other (from memory, high confidence). Frames whose time nobody annotated are not learnt from.",
		"The odds of the regressions are brought back to the true shares of the states before Bayes' rule.",
		"The distribution P(O) of the observation is left out, since it is the same for all states and changes no path.",
		"States at both ends reach beyond the recording as in the paper (from memory, high confidence), but the unseen part is summed over.",
		"The published sojourns are cut at three standard deviations in all four states. How the paper cuts systole is not known to us.",
	},
	Defaults: func() any { return defaultLogisticOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		m, err := ParseModel(model, "logistic-hsmm")
		if err != nil {
			return nil, err
		}
		return newLogisticSegmenter(options.(*logisticOptions), m.Params)
	},
	FitDefaults: func() any { return defaultLogisticFitOptions() },
	Fit:         fitLogisticHSMM,
}

// logisticOptions are the choices of the method logistic-hsmm in decoding. None
// of them needs another model.
type logisticOptions struct {
	Rates    `yaml:",inline"`
	Rhythm   string            `yaml:"rhythm"`
	Sojourns string            `yaml:"sojourns"`
	Emission string            `yaml:"emission"`
	Temper   float64           `yaml:"temper"`
	Timing   publishedSojourns `yaml:"timing"`
}

func defaultLogisticOptions() *logisticOptions {
	return &logisticOptions{
		Rates: defaultRates(), Rhythm: "search", Sojourns: "fitted",
		Timing: schmidtSojourns(), Emission: "joint", Temper: 0.5,
	}
}

// springer2016 is the source of the values of the paper.
var springer2016 = option.FromMemory("Springer et al. 2016", "high")

// bestInFolds is the reason of defaults that were chosen on folds of CirCor.
const bestInFolds = "The best in cross-validation by person on the recordings of CirCor"

// Options implements [option.Set].
func (o *logisticOptions) Options() []option.Option {
	return slices.Concat(o.Rates.options(30, 120, option.FromMemory("Springer et al. 2016", "")), []option.Option{
		{
			Key: "rhythm", Value: &o.Rhythm,
			About: "Source of the cycle length: search decodes under many and keeps the likeliest, autocorrelation takes the highest peak of that of the homomorphic envelope",
			Words: []string{"search", "autocorrelation"}, Paper: "autocorrelation", Source: springer2016, Default: bestInFolds,
		},
		{
			Key: "sojourns", Value: &o.Sojourns, About: "Source of the sojourn distributions: fitted takes those of the model, published those of timing",
			Words: []string{"fitted", "published"}, Paper: "published", Source: option.FromMemory("Springer et al. 2016", ""), Default: bestInFolds,
		},
		{
			Key: "emission", Value: &o.Emission,
			About: "Form of the likelihoods that are made of the regressions: joint divides the four probabilities by their sum before Bayes' rule, independent does not",
			Words: []string{"joint", "independent"}, Paper: "independent", Source: springer2016, Default: bestInFolds,
		},
		temperOption(&o.Temper, 1, springer2016, bestInFolds),
	}, o.Timing.options())
}

// temperOption describes the factor of log-likelihoods. Frames of 20 ms are not
// independent of their neighbours; taking them for independent counts the same
// evidence more than once against the sojourns.
func temperOption(value *float64, paper any, source option.Source, reason string) option.Option {
	return option.Option{
		Key: "temper", Value: value, About: "Factor of the log-likelihoods of frames, which are not independent of their neighbours",
		Low: 0.001, High: 1, Paper: paper, Source: source, Default: reason,
	}
}

// logisticSegmenter is a segmenter by the method logistic-hsmm.
type logisticSegmenter struct {
	model     *logisticModel
	options   logisticOptions
	search    *rhythmSearch
	features  featureFrames
	rhythms   rhythmFinder
	path      pathFinder
	posterior []float64 // log posteriors, four per frame, in joint emission
	emission  []float64 // log-likelihoods, four per frame
	predictor []float64 // linear predictor of one state
	work      []float64
}

// newLogisticSegmenter makes a segmenter with the parameters that the Fit of the
// method returned.
func newLogisticSegmenter(o *logisticOptions, params []byte) (*logisticSegmenter, error) {
	m := new(logisticModel)
	if err := readParams(params, m); err != nil {
		return nil, err
	}
	return &logisticSegmenter{
		model: m, options: *o, search: newRhythmSearch(o.Rates, m.Timing, (*hsmm.Decoder).Likelihoods, boundaryBlur(o.Temper)),
		features: newFeatureFrames(m.LogEnvelopes, m.KeepSpread, m.Context),
	}, nil
}

// Segment implements Segmenter. The confidence is the mean over frames of the
// probability that the frame holds a sound, S1 or S2, or none, as the path has
// it: of what was tried, it tells good from bad segmentations best.
func (l *logisticSegmenter) Segment(ctx context.Context, in *Input) (pcg.Segmentation, error) {
	if err := ctx.Err(); err != nil {
		return pcg.Segmentation{}, err
	}
	if err := l.features.load(in.Waveform); err != nil {
		return pcg.Segmentation{}, err
	}
	l.observe()
	r, err := l.chooseRhythm(ctx)
	if err != nil {
		return pcg.Segmentation{}, err
	}
	var timing sojournTimes = l.model.Timing
	if l.options.Sojourns == "published" {
		timing = l.options.Timing
	}
	s := l.path.find(timing, r, len(in.X))
	a := assess(l.posterior, l.path.runs)
	s.Confidence, s.ExchangeProbability = a.loudness, l.model.Exchange.probability(a.order)
	return s, nil
}

// observe makes posteriors and log-likelihoods of the features and loads the
// decoder.
//
// With z_j the linear predictor of state j and π_j its share of time, fitting to
// classes of equal weight estimates P(o | j)/P(o | not j) by e^z, so that the
// posterior odds of the state are e^z·π/(1 − π) (King and Zeng 2001, Political
// Analysis 9:137, doi 10.1093/oxfordjournals.pan.a004868). In "joint" emission
// the posteriors that follow are divided by their sum over the states, and the
// likelihood is proportional to the posterior over π. In "independent" emission,
// the paper's, it is σ(z)/π.
func (l *logisticSegmenter) observe() {
	n := l.features.frames()
	l.emission, l.posterior = grow(l.emission, 4*n), grow(l.posterior, 4*n)
	l.predictor, l.work = grow(l.predictor, n), grow(l.work, n)
	for j, prior := range l.model.Priors {
		l.features.predict(l.predictor, l.model.Weights[j])
		if l.options.Emission == "independent" {
			setColumn(l.emission, j, logSigmoids(l.work, l.predictor), -math.Log(prior))
		}
		shift := math.Log(prior / (1 - prior))
		for t := range l.predictor {
			l.predictor[t] += shift
		}
		setColumn(l.posterior, j, logSigmoids(l.work, l.predictor), 0)
	}
	l.work = normaliseLogs(l.posterior, l.work)
	if l.options.Emission == "joint" {
		for j, prior := range l.model.Priors {
			shift := math.Log(prior)
			for i := j; i < len(l.posterior); i += 4 {
				l.emission[i] = l.posterior[i] - shift
			}
		}
	}
	for i := range l.emission {
		l.emission[i] *= l.options.Temper
	}
	l.path.decoder.Load(l.emission)
}

// setColumn writes x, shifted, to column j of rows of four.
func setColumn(rows []float64, j int, x []float64, shift float64) {
	for t, v := range x {
		rows[4*t+j] = v + shift
	}
}

// chooseRhythm returns the rhythm to decode under.
func (l *logisticSegmenter) chooseRhythm(ctx context.Context) (rhythm, error) {
	if l.options.Rhythm == "autocorrelation" {
		r := l.rhythms.find(l.features.columns[0], l.options.Rates, 1)[0]
		if l.options.Sojourns == "fitted" {
			r.systole = l.model.Timing.systole(r.cycle)
		}
		return r, nil
	}
	return l.search.best(ctx, &l.path.decoder)
}
