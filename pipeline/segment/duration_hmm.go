package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"math"

	"phonocycle/pipeline/pcg"
)

// durationHMM is the method of Schmidt et al. 2010.
//
// The homomorphic envelope, one value a frame of 20 ms, is the observation;
// in each state it follows a Gaussian law. The autocorrelation of the envelope
// gives the cycle length and the systolic interval, these give the laws of the
// sojourns (PublishedTiming), and the Decoder finds the likeliest path.
//
// It departs from the paper in five points:
//   - Heart rates reach to 220 a minute by default.
//   - Several peaks of the autocorrelation are tried as cycle lengths and the
//     likeliest is kept (hypotheses; the paper's is 1): over so wide a range the
//     highest is often that of a systole or of two cycles.
//   - The observation is the logarithm of the envelope, standardised in each
//     recording, so that the gain of the microphone is of no consequence.
//   - The parameters of its laws come from the CirCor references, or from those
//     that a model was fitted to.
//   - The states at both ends may reach beyond the recording.
var durationHMM = Method{
	Name:  "duration-hmm",
	Title: "duration-dependent hidden Markov model on the homomorphic envelope",
	Citation: "Schmidt SE, Holst-Hansen C, Graff C, Toft E, Struijk JJ. Segmentation of heart sound recordings " +
		"by a duration-dependent hidden Markov model. Physiol Meas 2010;31:513-529",
	DOI:      "10.1088/0967-3334/31/4/004",
	Defaults: func() any { return DefaultDurationOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		o := *options.(*DurationOptions)
		if model != nil {
			m, err := ParseModel(model, "duration-hmm")
			if err != nil {
				return nil, err
			}
			var p durationModel
			if err := readParams("duration-hmm", m.Params, &p); err != nil {
				return nil, err
			}
			o.Emission = p.Emission
		}
		return NewDurationHMM(&o)
	},
	FitDefaults: func() any { return &DurationFitOptions{} },
	Fit:         fitDurationHMM,
}

// DurationFitOptions are the choices of fitting duration-hmm: there are none.
type DurationFitOptions struct{}

// durationModel is what fitting duration-hmm estimates. Sojourn laws stay those
// of the paper.
type durationModel struct {
	Emission EnvelopeLaws `json:"emission"`
}

func (m *durationModel) check() error { return m.Emission.check() }

// fitDurationHMM is the Fit of the method.
func fitDurationHMM(ctx context.Context, _ any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	laws, err := EstimateEnvelopeLaws(until(ctx, examples))
	if err != nil {
		return nil, fmt.Errorf("duration-hmm: %w", err)
	}
	for j, g := range laws.states() {
		how.say("%v: mean %.3f, SD %.3f", pcg.Cycle[j], g.Mean, g.SD)
	}
	return json.Marshal(durationModel{laws})
}

// until yields the examples until ctx ends, and then its error.
func until(ctx context.Context, examples iter.Seq2[Example, error]) iter.Seq2[Example, error] {
	return func(yield func(Example, error) bool) {
		for e, err := range examples {
			if err == nil {
				err = ctx.Err()
			}
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}

// DurationOptions are the choices of the method duration-hmm.
type DurationOptions struct {
	Rates `yaml:",inline"`

	// Hypotheses is the number of peaks of the autocorrelation that are tried as
	// cycle lengths; the likeliest is kept. The paper takes the highest peak.
	Hypotheses int `yaml:"hypotheses" json:"hypotheses"`

	Timing   PublishedTiming `yaml:"timing" json:"timing"`
	Emission EnvelopeLaws    `yaml:"emission" json:"emission"`
}

// EnvelopeLaws are the laws of the standardised logarithm of the envelope in
// the four states.
type EnvelopeLaws struct {
	S1       Gaussian `yaml:"s1" json:"s1"`
	Systole  Gaussian `yaml:"systole" json:"systole"`
	S2       Gaussian `yaml:"s2" json:"s2"`
	Diastole Gaussian `yaml:"diastole" json:"diastole"`
}

// Gaussian is a normal law.
type Gaussian struct {
	Mean float64 `yaml:"mean" json:"mean"`
	SD   float64 `yaml:"sd" json:"sd"`
}

// logDensity returns the log of the density at x, without −ln √2π.
func (g Gaussian) logDensity(x float64) float64 {
	z := (x - g.Mean) / g.SD
	return -z*z/2 - math.Log(g.SD)
}

// DefaultDurationOptions returns the constants of the paper, the emission laws
// that EstimateEnvelopeLaws gives for the references of CirCor, and five
// hypotheses, beyond which nothing changed on those recordings.
func DefaultDurationOptions() *DurationOptions {
	return &DurationOptions{
		Rates:      DefaultRates(),
		Hypotheses: 5,
		Timing:     SchmidtTiming(),
		Emission: EnvelopeLaws{
			S1:       Gaussian{Mean: 0.832, SD: 0.764},
			Systole:  Gaussian{Mean: -0.404, SD: 0.690},
			S2:       Gaussian{Mean: 0.459, SD: 0.767},
			Diastole: Gaussian{Mean: -0.671, SD: 0.700},
		},
	}
}

func (o *DurationOptions) check() error {
	if err := o.Rates.check(); err != nil {
		return fmt.Errorf("duration-hmm: %w", err)
	}
	if o.Hypotheses < 1 || o.Hypotheses > 100 {
		return fmt.Errorf("duration-hmm: %d hypotheses: want 1 to 100", o.Hypotheses)
	}
	if err := o.Timing.check(); err != nil {
		return fmt.Errorf("duration-hmm: %w", err)
	}
	if err := o.Emission.check(); err != nil {
		return fmt.Errorf("duration-hmm: %w", err)
	}
	return nil
}

func (e EnvelopeLaws) check() error {
	for j, g := range e.states() {
		if !(g.SD > 0) || math.IsInf(g.SD, 0) || math.IsNaN(g.Mean) || math.IsInf(g.Mean, 0) {
			return fmt.Errorf("emission of %v: mean %g, SD %g: want finite numbers and a positive SD", pcg.Cycle[j], g.Mean, g.SD)
		}
	}
	return nil
}

func (e EnvelopeLaws) states() [4]Gaussian { return [4]Gaussian{e.S1, e.Systole, e.S2, e.Diastole} }

// DurationHMM is a segmenter by the method duration-hmm.
type DurationHMM struct {
	options  DurationOptions
	frontEnd *frontEnd
	rhythm   rhythmFinder
	decoder  Decoder
	laws     Laws
	tried    []*Laws // of the rhythms that the autocorrelation offers
	envelope []float64
	emission []float64
	work     []float64
	runs     []Run
}

// NewDurationHMM makes a segmenter.
func NewDurationHMM(o *DurationOptions) (*DurationHMM, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	return &DurationHMM{options: *o, frontEnd: newFrontEnd()}, nil
}

// Segment implements Segmenter. The confidence is the mean over frames of the
// probability that the frame holds a sound, S1 or S2, or none, as the path has
// it, by the emission laws alone.
func (d *DurationHMM) Segment(ctx context.Context, x []float64, fs float64) (pcg.Segmentation, error) {
	if err := ctx.Err(); err != nil {
		return pcg.Segmentation{}, err
	}
	if err := d.frontEnd.load(x, fs); err != nil {
		return pcg.Segmentation{}, err
	}
	d.envelope = d.frontEnd.homomorphicFrames(d.envelope)
	standardLog(d.envelope)
	d.listen()
	h := d.chooseRhythm()
	d.options.Timing.Laws(&d.laws, h)
	d.decoder.Decode(&d.laws)
	d.runs = d.decoder.Runs(d.runs[:0])
	d.work = normaliseLogs(d.emission, d.work)
	loudness, _ := judge(d.emission, d.runs)
	return pcg.Segmentation{
		Intervals:           intervals(d.runs, len(x)),
		Confidence:          loudness,
		ExchangeProbability: math.NaN(),
		CycleLength:         pcg.FromSeconds(h.Cycle),
	}, nil
}

// chooseRhythm returns the likeliest of the rhythms that the autocorrelation
// offers.
func (d *DurationHMM) chooseRhythm() Hypothesis {
	candidates := d.rhythm.find(d.envelope, d.options.Rates, d.options.Hypotheses)
	if len(candidates) == 1 {
		return candidates[0]
	}
	for i, h := range candidates {
		if i == len(d.tried) {
			d.tried = append(d.tried, new(Laws))
		}
		d.options.Timing.Laws(d.tried[i], h)
	}
	best, choice := math.Inf(-1), candidates[0]
	for i, l := range d.decoder.Likelihoods(d.tried[:len(candidates)]) {
		if l > best {
			best, choice = l, candidates[i]
		}
	}
	return choice
}

// listen loads the log-likelihoods of the envelope into the decoder.
func (d *DurationHMM) listen() {
	d.emission = grow(d.emission, 4*len(d.envelope))
	laws := d.options.Emission.states()
	for t, v := range d.envelope {
		for j, g := range laws {
			d.emission[4*t+j] = g.logDensity(v)
		}
	}
	d.decoder.Load(d.emission)
}
