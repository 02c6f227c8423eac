package segment

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
)

// logisticHSMM is the method of Springer, Tarassenko and Clifford 2016, taken
// further where measurements on children asked for it.
//
// Four envelopes, one value per frame of 20 ms and standardised in each
// recording, are the observation: homomorphic, Hilbert, power in 40 to 60 Hz and
// the details of an undecimated wavelet transform in 62.5 to 125 Hz. A logistic
// regression of each state against all others says how probable the state is,
// Bayes' rule makes likelihoods of it, and package hsmm finds the likeliest path.
//
// Where it departs from the paper, with the switch that goes back if there is
// one:
//   - The logarithm of the envelopes is observed (fit option log-envelopes), in
//     a frame and its neighbours (fit option context; 0 for the frame alone).
//   - The regressions are fitted to classes made equal by weights. Their odds are
//     brought back to the true shares of the states and the four probabilities
//     to a sum of one before Bayes' rule (emission: the paper's is "independent").
//   - Many cycle lengths and systolic intervals are tried and the likeliest is
//     kept (rhythm: the paper's is "autocorrelation").
//   - Sojourns follow the cycle length as annotations have it (sojourns: the
//     paper's are "published").
//   - States at both ends reach beyond the recording as in the paper, but the
//     unseen part is summed over, see package hsmm.
var logisticHSMM = Method{
	Name:  "logistic-hsmm",
	Title: "logistic regression and hidden semi-Markov model",
	Citation: "Springer DB, Tarassenko L, Clifford GD. Logistic regression-HSMM-based heart sound segmentation. " +
		"IEEE Trans Biomed Eng 2016;63:822-832",
	DOI:      "10.1109/TBME.2015.2475278",
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
	Rates `yaml:",inline"`

	// Rhythm says where the cycle length comes from: "search" decodes under many
	// and keeps the likeliest, "autocorrelation" takes the highest peak of the
	// autocorrelation of the homomorphic envelope, as the paper does.
	Rhythm string `yaml:"rhythm" json:"rhythm"`

	// Sojourns says where the sojourn distributions come from: "fitted" takes those
	// of the model, "published" those of Timing, as the paper does.
	Sojourns string            `yaml:"sojourns" json:"sojourns"`
	Timing   publishedSojourns `yaml:"timing" json:"timing"`

	// Emission says how likelihoods are made of the regressions: "joint" or, as in
	// the paper, "independent". See emission.
	Emission string `yaml:"emission" json:"emission"`

	// Temper multiplies the log-likelihoods of the frames. Frames of 20 ms are not
	// independent of their neighbours; taking them for independent counts the same
	// evidence more than once against the sojourns.
	Temper float64 `yaml:"temper" json:"temper"`
}

// defaultLogisticOptions returns the choices that did best in cross-validation
// by person on the CirCor recordings. The paper's own are rhythm
// "autocorrelation", sojourns "published", emission "independent" and temper 1,
// with a model fitted without log-envelopes and with a context of 0.
func defaultLogisticOptions() *logisticOptions {
	return &logisticOptions{
		Rates: defaultRates(), Rhythm: "search", Sojourns: "fitted",
		Timing: schmidtSojourns(), Emission: "joint", Temper: 0.5,
	}
}

func (o *logisticOptions) check() error {
	switch {
	case o.Rhythm != "search" && o.Rhythm != "autocorrelation":
		return fmt.Errorf(`rhythm %q: want "search" or "autocorrelation"`, o.Rhythm)
	case o.Sojourns != "fitted" && o.Sojourns != "published":
		return fmt.Errorf(`sojourns %q: want "fitted" or "published"`, o.Sojourns)
	case o.Emission != "joint" && o.Emission != "independent":
		return fmt.Errorf(`emission %q: want "joint" or "independent"`, o.Emission)
	}
	return cmp.Or(checkTemper(o.Temper), o.Rates.check(), o.Timing.check())
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
	if err := o.check(); err != nil {
		return nil, err
	}
	m := new(logisticModel)
	if err := readParams(params, m); err != nil {
		return nil, err
	}
	return &logisticSegmenter{
		model: m, options: *o, search: newRhythmSearch(o.Rates, m.Timing, (*hsmm.Decoder).Likelihoods, boundaryBlur(o.Temper)),
		features: newFeatureFrames(m.LogEnvelopes, m.Context),
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
