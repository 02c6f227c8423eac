package segment

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/network"
	"phonocycle/pipeline/signal"
)

// synthetic returns seconds of a heart at 1 kHz whose S1 is a burst of 50 Hz and
// S2 one of 90 Hz, in noise, with its states. Sojourns follow the cycle length,
// with a little scatter.
func synthetic(person, take int, seconds float64) ([]float64, []pcg.Interval) {
	rng := rand.New(rand.NewPCG(uint64(person), uint64(take)))
	cycle := 0.45 + 0.04*float64(person%12)
	x := make([]float64, int(seconds*signal.AnalysisRate))
	for i := range x {
		x[i] = 0.01 * rng.NormFloat64()
	}
	var ivs []pcg.Interval
	at := rng.IntN(300)
	for {
		means := [4]float64{0.06 + 0.1*cycle, 0.05 + 0.15*cycle, 0.05 + 0.1*cycle, -0.16 + 0.65*cycle}
		for j, m := range means {
			n := int(math.Round(signal.AnalysisRate * (m + 0.012*rng.NormFloat64())))
			if at+n > len(x) {
				return x, ivs
			}
			for i := at; i < at+n && j%2 == 0; i++ {
				t := float64(i-at) / signal.AnalysisRate
				x[i] += 0.3 * math.Sin(2*math.Pi*(50+20*float64(j))*t) * math.Sin(math.Pi*float64(i-at)/float64(n))
			}
			ivs = append(ivs, pcg.Interval{Start: time.Duration(at) * time.Millisecond, End: time.Duration(at+n) * time.Millisecond, State: pcg.Cycle[j]})
			at += n
		}
	}
}

// syntheticSet yields recordings of people.
func syntheticSet(people int) iter.Seq2[Example, error] {
	return func(yield func(Example, error) bool) {
		for p := range people {
			x, ivs := synthetic(p, 1, 12)
			if !yield(Example{Source: Source{Recording: fmt.Sprint("r", p)}, Person: fmt.Sprint("p", p), X: x, Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: ivs}}, nil) {
				return
			}
		}
	}
}

// smallFitOptions are those of a fit that learns the synthetic hearts in a moment.
func smallFitOptions() *convFitOptions {
	o := network.DefaultOptions()
	o.FrontEnd.Bank.Bands = 10
	o.Architecture = network.Architecture{Bands: 10, Channels: 8, Kernel: 3, Dilations: []int{1, 2, 4, 8}, States: 4}
	o.Epochs, o.Batch, o.Peak, o.Window = 12, 4, 0.02, 200
	return &convFitOptions{Training: o}
}

// fittedSmall fits once for all tests.
var fittedSmall = sync.OnceValues(func() ([]byte, error) {
	said := ""
	params, err := fitConvHSMM(context.Background(), smallFitOptions(), syntheticSet(12), Fitting{Workers: 2, Progress: func(s string) { said = s }})
	if err == nil && !strings.HasPrefix(said, "kept the network of epoch 12: 12 recordings learnt from") {
		err = fmt.Errorf("fitted: %s", said)
	}
	return params, err
})

func smallSegmenter(t testing.TB) *convSegmenter {
	t.Helper()
	params, err := fittedSmall()
	if err != nil {
		t.Fatal(err)
	}
	s, err := newConvSegmenter(defaultConvOptions(), params)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestConvHSMMSegments finds the sounds of hearts at other takes, within 60 ms of
// their centres and none besides, for any number of samples.
func TestConvHSMMSegments(t *testing.T) {
	s := smallSegmenter(t)
	for person := range 12 {
		x, ivs := synthetic(person, 2, 10+0.007*float64(person))
		got, err := s.Segment(context.Background(), NewInput(x))
		if err != nil {
			t.Fatal(err)
		}
		if err := got.Check(pcg.FromSamples(int64(len(x)), signal.AnalysisRate)); err != nil {
			t.Error(err)
		}
		for _, iv := range ivs {
			if !iv.State.IsSound() {
				continue
			}
			near := 0
			for _, g := range got.Intervals {
				if g.State == iv.State && (g.Centre()-iv.Centre()).Abs() <= 60*time.Millisecond {
					near++
				}
			}
			if near != 1 {
				t.Errorf("person %d: %d sounds found at %v", person, near, iv)
			}
		}
		if want := 0.45 + 0.04*float64(person); math.Abs(got.CycleLength.Seconds()/want-1) > 0.06 {
			t.Errorf("person %d: cycle %v, want %.2f s", person, got.CycleLength, want)
		}
		if got.Confidence < 0.7 || got.ExchangeProbability > 0.2 {
			t.Errorf("person %d: confidence %.2f, probability of exchange %.2f", person, got.Confidence, got.ExchangeProbability)
		}
	}
}

// TestConvHSMMInvariance: a gain and the sign of the signal change nothing, nor does
// what the segmenter did before.
func TestConvHSMMInvariance(t *testing.T) {
	s := smallSegmenter(t)
	x, _ := synthetic(5, 3, 8)
	want, err := s.Segment(context.Background(), NewInput(x))
	if err != nil {
		t.Fatal(err)
	}
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = -0.25 * v
	}
	other, _ := synthetic(1, 3, 15)
	if _, err := s.Segment(context.Background(), NewInput(other)); err != nil {
		t.Fatal(err)
	}
	got, err := s.Segment(context.Background(), NewInput(y))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want.Intervals, got.Intervals); d != "" {
		t.Errorf("scaled by −0.25 (-want +got):\n%s", d)
	}
}

// TestConvHSMMDoubt: noise is segmented, with less confidence than a heart.
func TestConvHSMMDoubt(t *testing.T) {
	s := smallSegmenter(t)
	rng := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 5000)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	noise, err := s.Segment(context.Background(), NewInput(x))
	if err != nil {
		t.Fatal(err)
	}
	heart, _ := synthetic(3, 4, 5)
	sure, err := s.Segment(context.Background(), NewInput(heart))
	if err != nil {
		t.Fatal(err)
	}
	if noise.Confidence >= sure.Confidence || noise.ExchangeProbability <= sure.ExchangeProbability {
		t.Errorf("noise: confidence %.3f, exchange %.3g; heart: %.3f, %.3g",
			noise.Confidence, noise.ExchangeProbability, sure.Confidence, sure.ExchangeProbability)
	}
}

func TestConvHSMMRefusesRecordings(t *testing.T) {
	s := smallSegmenter(t)
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	x, _ := synthetic(1, 1, 3)
	for _, tt := range []struct {
		name string
		ctx  context.Context
		x    []float64
		want error
	}{
		{"short", context.Background(), x[:900], errTooShort},
		{"silent", context.Background(), make([]float64, 3000), errSilent},
		{"cancelled", cancelled, x, context.Canceled},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := s.Segment(tt.ctx, NewInput(tt.x)); !errors.Is(err, tt.want) {
				t.Errorf("error %v, want %v", err, tt.want)
			}
		})
	}
}

func TestConvHSMMRefusesModels(t *testing.T) {
	params, err := fittedSmall()
	if err != nil {
		t.Fatal(err)
	}
	edit := func(key string, value any) string {
		var m map[string]any
		if err := json.Unmarshal(params, &m); err != nil {
			t.Fatal(err)
		}
		m[key] = value
		out, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	broken := network.New(smallFitOptions().Training.Architecture, 1)
	broken.Weights[3] = float32(math.NaN())
	other := smallFitOptions().Training.FrontEnd
	other.Bank.Bands = 24
	for _, tt := range []struct{ name, params, want string }{
		{"weights not a number", edit("network", broken), "weight 4 of"},
		{"other bands", edit("front_end", other), "made for other bands"},
		{"no network", edit("network", nil), "fitted for another method"},
		{"no laws", edit("timing", nil), "no sojourn distributions"},
		{"no prior", edit("state_priors", []float64{0.2, 0.3, 0, 0.5}), "state_priors[2] is 0"},
		{"steep laws", edit("timing", map[string]any{"s1_s2": map[string]any{"intercept_s": 1e9}}), "timing."},
		{"unknown", edit("envelopes", 4), "unknown field"},
		{"not JSON", "weights", "invalid character"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := newConvSegmenter(defaultConvOptions(), []byte(tt.params)); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
	huge := network.New(smallFitOptions().Training.Architecture, 1)
	for i := range huge.Weights {
		huge.Weights[i] = 1e30
	}
	s, err := newConvSegmenter(defaultConvOptions(), []byte(edit("network", huge)))
	if err != nil {
		t.Fatal(err)
	}
	x, _ := synthetic(1, 1, 2)
	if _, err := s.Segment(context.Background(), NewInput(x)); err == nil || !strings.Contains(err.Error(), "the model is damaged") {
		t.Errorf("weights that overflow: error %v", err)
	}
}

func TestConvFitRefuses(t *testing.T) {
	broken := errors.New("file is broken")
	for _, tt := range []struct {
		name string
		set  iter.Seq2[Example, error]
		want string
	}{
		{"no recordings", func(func(Example, error) bool) {}, "no annotated recording"},
		{"a reading error", func(yield func(Example, error) bool) { yield(Example{}, broken) }, broken.Error()},
		{"too few cycles", syntheticSet(4), "4 recordings have 3 whole cycles or more: want at least 10"},
		{"a state missing", func(yield func(Example, error) bool) {
			for e, err := range syntheticSet(12) {
				var kept []pcg.Interval
				for _, iv := range e.Reference.Intervals {
					if iv.State != pcg.Diastole {
						kept = append(kept, iv)
					}
				}
				e.Reference.Intervals = kept
				if !yield(e, err) {
					return
				}
			}
		}, "no diastole in 12 references"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := fitConvHSMM(context.Background(), smallFitOptions(), tt.set, Fitting{}); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

// FuzzConvModel: whatever a model says, it is refused or it segments.
func FuzzConvModel(f *testing.F) {
	params, err := fittedSmall()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(params)
	f.Add([]byte(`{"front_end":{"bank":{"bands":1,"high_hz":1,"window_s":1}},"network":{}}`))
	x, _ := synthetic(2, 1, 2)
	f.Fuzz(func(t *testing.T, params []byte) {
		s, err := newConvSegmenter(defaultConvOptions(), params)
		if err != nil {
			return
		}
		got, err := s.Segment(context.Background(), NewInput(x))
		if err != nil {
			t.Skip(err)
		}
		if err := got.Check(pcg.FromSamples(int64(len(x)), signal.AnalysisRate)); err != nil {
			t.Error(err)
		}
	})
}

func BenchmarkConvHSMM(b *testing.B) {
	o := network.DefaultOptions()
	references := make([][]pcg.Interval, 12)
	for p := range references {
		_, references[p] = synthetic(p, 1, 12)
	}
	timing, err := estimateRegression(references)
	if err != nil {
		b.Fatal(err)
	}
	params, err := json.Marshal(&convModel{
		FrontEnd: o.FrontEnd, Network: network.New(o.Architecture, 1), Timing: timing,
		Priors: [4]float64{0.25, 0.25, 0.25, 0.25},
	})
	if err != nil {
		b.Fatal(err)
	}
	s, err := newConvSegmenter(defaultConvOptions(), params)
	if err != nil {
		b.Fatal(err)
	}
	x, _ := synthetic(6, 1, 20)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Segment(context.Background(), NewInput(x)); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
}
