package segment

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"iter"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
)

func TestLogisticFitIsRepeatable(t *testing.T) {
	first, err := logisticModelFile()
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	params, err := logisticHSMM.Fit(context.Background(), logisticHSMM.FitDefaults(), hearts(), Fitting{Progress: func(s string) { said = append(said, s) }})
	if err != nil {
		t.Fatal(err)
	}
	again, err := (&Model{Method: logisticHSMM.Name, DataSet: "synthetic", Date: "2022-05-01", Params: params}).Marshal()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first, again) {
		t.Error("two fits to the same recordings differ")
	}
	if len(said) != 1 || !strings.Contains(said[0], "24 recordings") {
		t.Errorf("progress: %q", said)
	}
}

// Each switch leads back to the paper and gives a segmentation of its own kind.
func TestLogisticSwitches(t *testing.T) {
	file, err := logisticModelFile()
	if err != nil {
		t.Fatal(err)
	}
	r := heart(t, 80, 4, 10*time.Second)
	for name, change := range map[string]func(*logisticOptions){
		"as the paper": func(o *logisticOptions) {
			o.Rhythm, o.Sojourns, o.Emission, o.Temper = "autocorrelation", "published", "independent", 1
		},
		"published sojourns":   func(o *logisticOptions) { o.Sojourns = "published" },
		"autocorrelation":      func(o *logisticOptions) { o.Rhythm = "autocorrelation" },
		"independent emission": func(o *logisticOptions) { o.Emission = "independent" },
	} {
		o := defaultLogisticOptions()
		change(o)
		s, err := logisticHSMM.New(o, file)
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.Segment(context.Background(), NewInput(r.Samples))
		if err != nil {
			t.Fatal(err)
		}
		if sounds, hits, besides := found(r.Truth, got.Intervals, headline); hits < sounds || besides > 0 {
			t.Errorf("%s: %d of %d sounds of a clean heart found, %d besides", name, hits, sounds, besides)
		}
	}
	// The model carries what the fit chose.
	o := defaultLogisticFitOptions()
	o.LogEnvelopes, o.Context = false, 0
	params, err := logisticHSMM.Fit(context.Background(), o, hearts(), Fitting{})
	if err != nil {
		t.Fatal(err)
	}
	var m logisticModel
	if err := json.Unmarshal(params, &m); err != nil {
		t.Fatal(err)
	}
	if m.LogEnvelopes || m.Context != 0 || len(m.Weights[0]) != 5 {
		t.Errorf("model %+v", m)
	}
	s, err := newLogisticSegmenter(defaultLogisticOptions(), params)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Segment(context.Background(), NewInput(r.Samples)); err != nil {
		t.Error(err)
	}
}

// A segmentation of a heart played with S1 and S2 exchanged is suspected of it
// more than that of the heart itself.
func TestLogisticSuspectsExchange(t *testing.T) {
	file, err := logisticModelFile()
	if err != nil {
		t.Fatal(err)
	}
	m, err := ParseModel(file, logisticHSMM.Name)
	if err != nil {
		t.Fatal(err)
	}
	s, err := newLogisticSegmenter(defaultLogisticOptions(), m.Params)
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Segment(context.Background(), NewInput(heart(t, 90, 2, 10*time.Second).Samples))
	if err != nil {
		t.Fatal(err)
	}
	exchanged := slices.Clone(s.path.runs)
	for i := range exchanged {
		exchanged[i].State = exchanged[i].State.Exchanged()
	}
	order, back := assess(s.posterior, s.path.runs).order, assess(s.posterior, exchanged).order
	if math.Abs(order+back) > 1e-12 || order <= 0 {
		t.Errorf("order %g along the path, %g along the exchanged one: want opposite signs", order, back)
	}
	if p := got.ExchangeProbability; p >= 0.5 {
		t.Errorf("probability of exchange %g in a clean heart", p)
	}
}

func TestLogisticModelRefusals(t *testing.T) {
	file, err := logisticModelFile()
	if err != nil {
		t.Fatal(err)
	}
	m, err := ParseModel(file, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, want string
		change     func(*logisticModel)
	}{
		{"no timing", "sojourn", func(m *logisticModel) { m.Timing = nil }},
		{"prior of zero", "state_priors[2]", func(m *logisticModel) { m.Priors[2] = 0 }},
		{"a weight less", "weights of systole", func(m *logisticModel) { m.Weights[1] = m.Weights[1][1:] }},
		{"a huge weight", "weights[3][2] is 1e+09", func(m *logisticModel) { m.Weights[3][2] = 1e9 }},
		{"a context of other length", "weights of S1", func(m *logisticModel) { m.Context = 1 }},
		{"a vast context", "context", func(m *logisticModel) { m.Context = 1 << 40 }},
	} {
		var l logisticModel
		if err := json.Unmarshal(m.Params, &l); err != nil {
			t.Fatal(err)
		}
		c.change(&l)
		params, err := json.Marshal(&l)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := newLogisticSegmenter(defaultLogisticOptions(), params); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that says %q", c.name, err, c.want)
		}
	}
	if _, err := newLogisticSegmenter(defaultLogisticOptions(), []byte(`{"network": 1}`)); err == nil {
		t.Error("parameters of another method pass")
	}
}

// The model that the program brings along can be used and names whom it has
// learnt from; it finds the sounds of hearts that it has never met.
func TestLogisticBuiltin(t *testing.T) {
	content, err := os.ReadFile(filepath.Join("..", "..", "configs", "models", "logistic-hsmm.json"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := ParseModel(content, logisticHSMM.Name)
	if err != nil {
		t.Fatal(err)
	}
	if len(m.People) != 151 || m.Recordings != 558 || m.Score == nil || m.Score.F1 < 0.955 {
		t.Errorf("%d people, %d recordings, score %+v", len(m.People), m.Recordings, m.Score)
	}
	s, err := logisticHSMM.New(logisticHSMM.Defaults(), content)
	if err != nil {
		t.Fatal(err)
	}
	r := heart(t, 95, 8, 10*time.Second)
	got, err := s.Segment(context.Background(), NewInput(r.Samples))
	if err != nil {
		t.Fatal(err)
	}
	if sounds, hits, besides := found(r.Truth, got.Intervals, headline); hits < sounds || besides > 0 {
		t.Errorf("%d of %d sounds of a clean heart found, %d besides", hits, sounds, besides)
	}
}

func TestOptionRefusals(t *testing.T) {
	for _, c := range []struct {
		defaults func() any
		change   func(any)
		want     string // whole
	}{
		{shannonPeaks.Defaults, func(o any) { o.(*shannonOptions).Scale = 0 }, "scale-quantile is 0: want 0.5 to 1"},
		{shannonPeaks.Defaults, func(o any) { o.(*shannonOptions).Floor = 2 }, "floor is 2: want -10 to lowest-threshold"},
		{shannonPeaks.Defaults, func(o any) { o.(*shannonOptions).Limits = math.NaN() }, "limits-sd is NaN: want 0.001 to 1000"},
		{durationHMM.Defaults, func(o any) { o.(*durationOptions).Fastest = 1000 }, "max-rate is 1000: want 10 to 400"},
		{durationHMM.Defaults, func(o any) { o.(*durationOptions).Hypotheses = 0 }, "hypotheses is 0: want 1 to 100"},
		{durationHMM.Defaults, func(o any) { o.(*durationOptions).Timing.S1SD = 0 }, "timing.s1-sd-s is 0: want 1e-06 to 1"},
		{durationHMM.Defaults, func(o any) {
			o.(*durationOptions).Timing.DiastoleShare, o.(*durationOptions).Timing.DiastoleSD = 0, 0
		}, "timing.diastole-sd-s is 0: want 0 to 1 less timing.diastole-sd-share, and not 0 if that is"},
		{logisticHSMM.Defaults, func(o any) { o.(*logisticOptions).Rhythm = "" }, `rhythm is "": want search or autocorrelation`},
		{logisticHSMM.Defaults, func(o any) { o.(*logisticOptions).Sojourns = "x" }, `sojourns is "x": want fitted or published`},
		{logisticHSMM.Defaults, func(o any) { o.(*logisticOptions).Emission = "x" }, `emission is "x": want joint or independent`},
		{logisticHSMM.Defaults, func(o any) { o.(*logisticOptions).Temper = 0 }, "temper is 0: want 0.001 to 1"},
		{logisticHSMM.FitDefaults, func(o any) { o.(*logisticFitOptions).L2 = 0 }, "l2 is 0: want 1e-09 to 1e+09"},
		{logisticHSMM.FitDefaults, func(o any) { o.(*logisticFitOptions).Context = -1 }, "context is -1: want 0 to 10"},
		{convHSMM.FitDefaults, func(o any) { o.(*convFitOptions).Training.Architecture.Kernel = 4 }, "architecture.kernel: a kernel of 4 taps has no middle: want an odd number"},
		{convHSMM.FitDefaults, func(o any) { o.(*convFitOptions).Training.Architecture.States = 5 }, "architecture.states is 5: want 4"},
		{convHSMM.FitDefaults, func(o any) { o.(*convFitOptions).Training.Architecture.Dilations = []int{1, 0} }, "architecture.dilations is [1 0]: want each 1 to 4096 divided by architecture.kernel"},
		{convHSMM.FitDefaults, func(o any) { o.(*convFitOptions).Training.FrontEnd.Bank.Bands = 25 }, "front-end.bank.bands: a network of 24 bands behind a filter bank of 25: want the same number"},
	} {
		o := c.defaults()
		c.change(o)
		if err := option.Check(o.(option.Set).Options()); err == nil || err.Error() != c.want {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
}

func TestLogisticFitRefusals(t *testing.T) {
	stop := errors.New("disk on fire")
	for _, c := range []struct {
		name     string
		examples iter.Seq2[Example, error]
		want     string
	}{
		{"nothing to learn from", func(func(Example, error) bool) {}, "no annotated recording"},
		{"an error while reading", func(yield func(Example, error) bool) { yield(Example{}, stop) }, "disk on fire"},
		{"points only", func(yield func(Example, error) bool) {
			x := heart(t, 60, 1, 3*time.Second).Samples
			yield(Example{X: x, Reference: pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{{At: time.Second, Sound: pcg.S1}}}}, nil)
		}, "no annotated recording"},
		{"too few cycles", func(yield func(Example, error) bool) {
			r := heart(t, 60, 1, 3*time.Second)
			yield(Example{X: r.Samples, Reference: pcg.Reference{Intervals: r.Truth}}, nil)
		}, errFewCycles.Error()},
	} {
		if _, err := logisticHSMM.Fit(context.Background(), defaultLogisticFitOptions(), c.examples, Fitting{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one that says %q", c.name, err, c.want)
		}
	}
}

func TestFeaturesOfNeighbours(t *testing.T) {
	f := featureFrames{context: 1}
	for k := range f.columns {
		f.columns[k] = []float64{float64(10 * k), float64(10*k + 1), float64(10*k + 2)}
	}
	f.extend()
	weights := []float64{0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	predicted := make([]float64, 3)
	f.predict(predicted, weights)
	for frame, want := range [][]float64{
		{0, 0, 1, 10, 10, 11, 20, 20, 21, 30, 30, 31},
		{0, 1, 2, 10, 11, 12, 20, 21, 22, 30, 31, 32},
		{1, 2, 2, 11, 12, 12, 21, 22, 22, 31, 32, 32},
	} {
		if diff := cmp.Diff(want, f.appendRow(nil, frame)); diff != "" {
			t.Errorf("frame %d (-want +got):\n%s", frame, diff)
		}
		if want := linear(weights, want); predicted[frame] != want {
			t.Errorf("frame %d: predictor %g, want %g", frame, predicted[frame], want)
		}
	}
}

func TestNormaliseLogs(t *testing.T) {
	rows := []float64{0, 0, 0, 0, -1000, -1001, -1002, -1000, 700, 0, -700, 3, -1, math.Inf(-1), -2, -3}
	before := slices.Clone(rows)
	normaliseLogs(rows, nil)
	for t0 := 0; t0 < len(rows); t0 += 4 {
		sum := 0.0
		for j := t0; j < t0+4; j++ {
			sum += math.Exp(rows[j])
			if d := (rows[j] - rows[t0]) - (before[j] - before[t0]); math.Abs(d) > 1e-9 {
				t.Errorf("row %d: ratios change", t0/4)
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("row %d adds up to %g", t0/4, sum)
		}
	}
}

// With its spread kept, a recording in noise has features that stand out less than those
// of a clean one, by which no gain makes a difference; standardised, they stand out alike.
func TestKeepSpread(t *testing.T) {
	clean := heart(t, 75, 1, 8*time.Second).Samples
	noisy := mustMake(t, &changedCopies{Number: 1, LowestSNR: -5, HighestSNR: -5}, "a", clean, 0, 1)
	loud := slices.Clone(clean)
	for i := range loud {
		loud[i] *= 8
	}
	spread := func(keep bool, x []float64) float64 {
		f := newFeatureFrames(true, keep, 2)
		if err := f.load(NewInput(x).Waveform); err != nil {
			t.Fatal(err)
		}
		mean, sd := signal.MeanSD(f.columns[1])
		if math.Abs(mean) > 1e-9 {
			t.Errorf("keep %v: mean %g", keep, mean)
		}
		return sd
	}
	if sd := spread(false, noisy); math.Abs(sd-1) > 1e-9 {
		t.Errorf("standardised: SD %g", sd)
	}
	if c, n, l := spread(true, clean), spread(true, noisy), spread(true, loud); n > c/2 || math.Abs(l-c) > 1e-9 {
		t.Errorf("SD %.3f clean, %.3f in noise, %.3f eight times as loud", c, n, l)
	}
}
