package segment

import (
	"bytes"
	"context"
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/degrade"
)

// values returns the numbers of the changes of a condition, by key.
func values(t *testing.T, condition string) map[string]string {
	t.Helper()
	if _, err := degrade.Parse(condition); err != nil {
		t.Fatalf("%s: %v", condition, err)
	}
	m := map[string]string{}
	for pair := range strings.SplitSeq(condition, ",") {
		key, value, _ := strings.Cut(pair, "=")
		m[key] = value
	}
	return m
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	var v float64
	if _, err := fmt.Sscan(text, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// power returns the mean square of x between two frequencies.
func power(t *testing.T, x []float64, low, high float64) float64 {
	t.Helper()
	sos, err := signal.ButterworthBandPass(2, low, high, signal.AnalysisRate)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, v := range signal.NewZeroPhase(sos).Filter(nil, x) {
		sum += v * v
	}
	return sum / float64(len(x))
}

func mustMake(t *testing.T, c *changedCopies, recording string, x []float64, k int, seed uint64) []float64 {
	t.Helper()
	y, err := c.make(recording, x, k, seed)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// The noise of a copy has the level that its condition says, which lies in the part of
// the range that is the copy's own.
func TestCopiesHaveTheirLevel(t *testing.T) {
	c := &changedCopies{Number: 4, LowestSNR: -6, HighestSNR: 14}
	x := heart(t, 75, 1, 8*time.Second).Samples
	colours := map[string]bool{}
	for _, recording := range []string{"a", "b", "c", "d"} {
		for k := range c.Number {
			v := values(t, c.condition(recording, k, 1))
			colours[v["noise"]] = true
			snr := number(t, v["snr"])
			if low := -6 + 5*float64(k); snr < low-0.01 || snr > low+5.01 || len(v) != 2 {
				t.Errorf("copy %d: %v", k, v)
			}
			noise := mustMake(t, c, recording, x, k, 1)
			for i := range noise {
				noise[i] -= x[i]
			}
			var windows []float64
			for at := 0; at < len(x); at += signal.AnalysisRate {
				windows = append(windows, power(t, x[at:at+signal.AnalysisRate], signal.BandLow, signal.BandHigh))
			}
			slices.Sort(windows)
			got := 10 * math.Log10(signal.Quantile(windows, 0.5)/power(t, noise, signal.BandLow, signal.BandHigh))
			if math.Abs(got-snr) > 0.3 { // windows are filtered one by one here
				t.Errorf("%s, copy %d: %.2f dB, want %.2f", recording, k, got, snr)
			}
		}
	}
	if len(colours) != 3 {
		t.Errorf("colours %v in 16 copies", colours)
	}
}

// A limited band has lost what lies beyond the cut, and kept the rest.
func TestCopiesHaveTheirBand(t *testing.T) {
	whole, limited := &changedCopies{Number: 8, LowestSNR: 0, HighestSNR: 5}, &changedCopies{Number: 8, LowestSNR: 0, HighestSNR: 5, BandLimited: 1}
	x := heart(t, 75, 1, 8*time.Second).Samples
	cuts := map[string]int{}
	for k := range whole.Number {
		v := values(t, limited.condition("a", k, 1))
		before, after := mustMake(t, whole, "a", x, k, 1), mustMake(t, limited, "a", x, k, 1)
		kept := func(low, high float64) float64 { return power(t, after, low, high) / power(t, before, low, high) }
		switch {
		case v["low-cut"] != "":
			cuts["low"]++
			f := number(t, v["low-cut"])
			if f < lowCuts[0] || f > lowCuts[1] || kept(f/3, f/2) > 0.02 || kept(2*f, 4*f) < 0.8 {
				t.Errorf("low cut at %g Hz: %.3f of the power below is left, %.3f of that above", f, kept(f/3, f/2), kept(2*f, 4*f))
			}
		case v["high-cut"] != "":
			cuts["high"]++
			f := number(t, v["high-cut"])
			top := min(3*f, 480)
			if f < highCuts[0] || f > highCuts[1] || 2*f < 400 && kept(2*f, top) > 0.02 || kept(f/4, f/2) < 0.8 {
				t.Errorf("high cut at %g Hz: %.3f of the power above is left, %.3f of that below", f, kept(min(2*f, 400), top), kept(f/4, f/2))
			}
		default:
			t.Errorf("copy %d has its whole band: %v", k, v)
		}
	}
	if cuts["low"] == 0 || cuts["high"] == 0 {
		t.Errorf("cuts %v", cuts)
	}
}

// A copy follows from the seed, the recording and its number, and from nothing else.
func TestCopiesAreSeeded(t *testing.T) {
	c := &changedCopies{Number: 3, LowestSNR: 0, HighestSNR: 10, BandLimited: 0.5}
	x := heart(t, 75, 1, 3*time.Second).Samples
	own := slices.Clone(x)
	first := mustMake(t, c, "a", x, 1, 1)
	for what, other := range map[string][]float64{
		"another recording": mustMake(t, c, "b", x, 1, 1), "another copy": mustMake(t, c, "a", x, 2, 1), "another seed": mustMake(t, c, "a", x, 1, 2),
	} {
		if slices.Equal(first, other) {
			t.Errorf("%s: the same copy", what)
		}
	}
	if !slices.Equal(first, mustMake(t, c, "a", x, 1, 1)) {
		t.Error("another copy after others were made")
	}
	if !slices.Equal(x, own) {
		t.Error("making copies changed the recording")
	}
}

// limitedTo yields the first examples of a set.
func limitedTo(n int, set iter.Seq2[Example, error]) iter.Seq2[Example, error] {
	return func(yield func(Example, error) bool) {
		i := 0
		for e, err := range set {
			if i++; i > n || !yield(e, err) {
				return
			}
		}
	}
}

// Fits to copies give the same bytes for any number of workers; without copies, those
// of a fit that knows none; with another seed, others.
func TestFitsToCopies(t *testing.T) {
	conv, plain := shortFitOptions(), shortFitOptions()
	conv.Training.Epochs = 1
	logistic := defaultLogisticFitOptions()
	other := defaultLogisticFitOptions()
	other.Seed++
	none := defaultLogisticFitOptions()
	none.Copies.Number, none.Seed = 0, 7
	noneEither := defaultLogisticFitOptions()
	noneEither.Copies = changedCopies{}
	plain.Training.Epochs, plain.Copies.Number = 1, 0
	plainEither := shortFitOptions()
	plainEither.Training.Epochs, plainEither.Copies = 1, changedCopies{}
	fit := func(m *Method, options any, workers int) []byte {
		t.Helper()
		params, err := m.Fit(context.Background(), options, limitedTo(12, syntheticSet(12)), Fitting{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return params
	}
	for _, tt := range []struct {
		what    string
		a, b    []byte
		unequal bool
	}{
		{"conv-hsmm, 1 and 2 workers", fit(&convHSMM, conv, 1), fit(&convHSMM, conv, 2), false},
		{"conv-hsmm, 1 and 7 workers", fit(&convHSMM, conv, 1), fit(&convHSMM, conv, 7), false},
		{"conv-hsmm without copies", fit(&convHSMM, plain, 1), fit(&convHSMM, plainEither, 1), false},
		{"conv-hsmm with and without copies", fit(&convHSMM, plain, 1), fit(&convHSMM, conv, 1), true},
		{"logistic-hsmm, 1 and 2 workers", fit(&logisticHSMM, logistic, 1), fit(&logisticHSMM, logistic, 2), false},
		{"logistic-hsmm, 1 and 7 workers", fit(&logisticHSMM, logistic, 1), fit(&logisticHSMM, logistic, 7), false},
		{"logistic-hsmm, two seeds", fit(&logisticHSMM, logistic, 1), fit(&logisticHSMM, other, 1), true},
		{"logistic-hsmm without copies", fit(&logisticHSMM, none, 1), fit(&logisticHSMM, noneEither, 1), false},
		{"logistic-hsmm with and without copies", fit(&logisticHSMM, none, 1), fit(&logisticHSMM, logistic, 1), true},
	} {
		if bytes.Equal(tt.a, tt.b) == tt.unequal {
			t.Errorf("%s: equal is %v", tt.what, !tt.unequal)
		}
	}
}

// Fitted to copies, logistic-hsmm finds more sounds in noise than fitted without.
func TestCopiesHelpInNoise(t *testing.T) {
	missed := func(o *logisticFitOptions) (errors int) {
		params, err := logisticHSMM.Fit(context.Background(), o, hearts(), Fitting{Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		s, err := newLogisticSegmenter(defaultLogisticOptions(), params)
		if err != nil {
			t.Fatal(err)
		}
		noisy := &changedCopies{Number: 1, LowestSNR: -3, HighestSNR: -3}
		for i := range 12 {
			r := heart(t, 60+7*float64(i), uint64(i), 8*time.Second)
			got, err := s.Segment(context.Background(), NewInput(mustMake(t, noisy, fmt.Sprint(i), r.Samples, 0, 5)))
			if err != nil {
				t.Fatal(err)
			}
			sounds, hits, besides := found(r.Truth, got.Intervals, headline)
			errors += sounds - hits + besides
		}
		return errors
	}
	without := defaultLogisticFitOptions()
	without.Copies.Number = 0
	if with, without := missed(defaultLogisticFitOptions()), missed(without); with >= without {
		t.Errorf("%d errors in noise after a fit to copies, %d after one without", with, without)
	}
}

// Results come in the order of the examples, for any number of workers. An error of an
// example, or of measuring one, ends the measuring.
func TestMeasureAll(t *testing.T) {
	yielded := 0
	set := func(yield func(Example, error) bool) {
		for yielded = 0; yielded < 50; yielded++ {
			if !yield(Example{X: make([]float64, yielded)}, nil) {
				return
			}
		}
	}
	one := func() *int { return new(int) }
	length := func(_ *int, e *Example) (int, error) { return len(e.X), nil }
	for _, workers := range []int{0, 1, 7} {
		got, err := measureAll(workers, set, one, length)
		for i, n := range got {
			if n != i {
				t.Errorf("%d workers: result %d is %d", workers, i, n)
			}
		}
		if err != nil || len(got) != 50 {
			t.Errorf("%d workers: %d results, %v", workers, len(got), err)
		}
	}
	broken := fmt.Errorf("broken")
	if _, err := measureAll(2, set, one, func(_ *int, e *Example) (int, error) {
		if len(e.X) == 20 {
			return 0, broken
		}
		return 0, nil
	}); err != broken || yielded == 50 {
		t.Errorf("error %v after %d examples, want that of measuring one", err, yielded)
	}
	ends := func(yield func(Example, error) bool) {
		_ = yield(Example{}, nil) && yield(Example{}, broken) && yield(Example{}, nil)
	}
	if got, err := measureAll(2, ends, one, length); err != broken || got != nil {
		t.Errorf("%v, %v, want the error of an example", got, err)
	}
}
