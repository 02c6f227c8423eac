package eval

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// regressionReference is what testdata/leakage/regression.py wrote.
type regressionReference struct {
	X     [][]float64
	Y     []int
	Cases []struct {
		C                float64
		Coefficients     [][]float64
		Intercepts       []float64
		Probabilities    [][]float64
		Accuracy         float64
		BalancedAccuracy float64 `json:"balanced_accuracy"`
		AUC              []float64
	}
	Ties struct {
		Score, Weight []float64
		Positive      []int
		AUC           float64
		WeightedAUC   float64 `json:"weighted_auc"`
	}
}

func loadRegressionReference(t *testing.T) regressionReference {
	t.Helper()
	var ref regressionReference
	content, err := os.ReadFile(filepath.Join("..", "testdata", "leakage", "regression.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(content, &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

// The regression gives the values of testdata/leakage, and so do the figures.
func TestMultinomial(t *testing.T) {
	ref := loadRegressionReference(t)
	unscaled := scaling{make([]float64, len(ref.X[0])), ones(len(ref.X[0]))}
	x := unscaled.apply(ref.X)
	for _, c := range ref.Cases {
		weights, err := fitMultinomial(x, ref.Y, 3, 1/c.C)
		if err != nil {
			t.Fatal(err)
		}
		intercept := len(ref.X[0])
		mean := mat.Sum(weights.ColView(intercept)) / 3 // they are determined up to a constant
		for k := range 3 {
			for j, want := range c.Coefficients[k] {
				expectNear(t, fmt.Sprintf("C %v: coefficient %d of class %d", c.C, j, k), weights.At(k, j), want, 1e-5)
			}
			expectNear(t, fmt.Sprintf("C %v: intercept of class %d", c.C, k), weights.At(k, intercept)-mean, c.Intercepts[k], 1e-5)
		}
		probabilities := multinomial(x, weights)
		d := &groupedFeatures{y: ref.Y, classes: []string{"a", "b", "c"}}
		for i := range ref.X {
			if i < len(c.Probabilities) {
				for k, want := range c.Probabilities[i] {
					expectNear(t, "probability", probabilities.At(i, k), want, 1e-5)
				}
			}
			d.person = append(d.person, i)
		}
		figures := newClassScorer(d, probabilities).figures(ones(len(ref.X)))
		expectNear(t, "accuracy", figures[0], c.Accuracy, 1e-12)
		expectNear(t, "balanced accuracy", figures[1], c.BalancedAccuracy, 1e-12)
		for k, want := range c.AUC {
			expectNear(t, "area under the curve", figures[4+2*k], want, 1e-12)
		}
	}
}

func TestAUCOfTies(t *testing.T) {
	ties := loadRegressionReference(t).Ties
	positive, weight := make([]bool, len(ties.Score)), ones(len(ties.Score))
	for i := range positive {
		positive[i] = ties.Positive[i] == 1
	}
	order := ascending(ties.Score)
	expectNear(t, "area", auc(order, ties.Score, positive, weight), ties.AUC, 1e-12)
	expectNear(t, "weighted area", auc(order, ties.Score, positive, ties.Weight), ties.WeightedAUC, 1e-12)
	if a := auc(order, ties.Score, make([]bool, len(positive)), weight); !math.IsNaN(a) {
		t.Errorf("area without positives is %v, want NaN", a)
	}
}

func expectNear(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !near(got, want, tolerance) {
		t.Errorf("%s is %v, want %v within %v", what, got, want, tolerance)
	}
}

// twoSets makes recordings of two data sets, four per person, with features that
// draw gives.
func twoSets(people int, seed uint64, draw func(set int, random *rand.Rand) []float64) *FeatureMatrix {
	random := rand.New(rand.NewPCG(seed, 7))
	m := &FeatureMatrix{Names: []string{"rr", "level", "constant", "mostly null"}}
	for p := range people {
		values := append(draw(p%2, random), 7, math.NaN())
		for i := range 4 {
			row := slices.Clone(values)
			if i == 0 {
				row[3] = float64(p)
			}
			m.Rows = append(m.Rows, FeatureVector{Group: []string{"a", "b"}[p%2], Person: fmt.Sprint(p), Values: row})
		}
	}
	return m
}

func mustIdentify(t *testing.T, m *FeatureMatrix) *Identifiability {
	t.Helper()
	o := DefaultIdentifiabilityOptions()
	o.Resamples = 200
	r, err := Identify(context.Background(), m, o, func() {})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Two data sets that differ in a level are told apart; the level is named.
func TestIdentifyFindsALevel(t *testing.T) {
	m := twoSets(60, 1, func(set int, random *rand.Rand) []float64 {
		return []float64{random.NormFloat64(), -20 + 10*float64(set) + random.NormFloat64()}
	})
	m.LeftOut = 3
	r := mustIdentify(t, m)
	if r.AUC.Value < 0.99 || r.Accuracy.Value < 0.99 || r.People != 60 || r.Recordings != 240 || r.Features != 2 || r.Dropped != 2 {
		t.Errorf("%+v", r)
	}
	if first := r.Top[0]; first.Name != "level" || math.Abs(first.AUC-0.5) < 0.49 {
		t.Errorf("top feature %+v, want level", first)
	}
	// How far apart the sets are does not depend on which of them has the higher values.
	other := twoSets(60, 1, func(set int, random *rand.Rand) []float64 {
		return []float64{random.NormFloat64(), -20 - 10*float64(set) + random.NormFloat64()}
	})
	if first, below := r.Top[0], mustIdentify(t, other).Top[0]; first.AUC < 0.99 || below.AUC < 0.99 || first.Values == below.Values {
		t.Errorf("%+v and, the other way round, %+v", first, below)
	}
	var a, b bytes.Buffer
	if err := errors.Join(r.WriteText(&a), mustIdentify(t, m).WriteText(&b)); err != nil {
		t.Fatal(err)
	}
	if a.String() != b.String() {
		t.Error("two reports on the same features differ")
	}
	for _, want := range []string{"warning: 3 recordings left out", "λ = 1", "balanced accuracy"} {
		if !strings.Contains(a.String(), want) {
			t.Errorf("no %q in\n%s", want, a.String())
		}
	}
}

// Features that tell the person and nothing else do not tell the data set of
// people who were left out, and most intervals say so. (On noise the area comes
// out a little below one half: whom a fold lacks, the others have too many of.)
func TestIdentifyIsByPerson(t *testing.T) {
	const trials = 40
	var mean float64
	covered := 0
	for seed := range uint64(trials) {
		r := mustIdentify(t, twoSets(100, seed, func(_ int, random *rand.Rand) []float64 {
			return []float64{random.NormFloat64(), random.NormFloat64()}
		}))
		mean += float64(r.AUC.Value) / trials
		if r.AUC.Low <= 0.5 && r.AUC.High >= 0.5 {
			covered++
		}
	}
	t.Logf("mean area %.3f, %d of %d intervals hold one half", mean, covered, trials)
	if math.Abs(mean-0.5) > 0.05 || covered < trials*3/4 {
		t.Errorf("mean area %.3f of noise, %d of %d intervals hold one half", mean, covered, trials)
	}
}

func TestIdentifyErrors(t *testing.T) {
	noise := func(_ int, random *rand.Rand) []float64 { return []float64{random.NormFloat64(), random.NormFloat64()} }
	for _, tt := range []struct {
		change func(*FeatureMatrix, *IdentifiabilityOptions)
		want   string
	}{
		{func(m *FeatureMatrix, _ *IdentifiabilityOptions) { m.Rows = m.Rows[:4] }, "nothing to tell apart"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.By = nil }, "by names no property"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.Folds = 1 }, "folds"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.Folds = 99 }, "folds"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.L2 = 0 }, "l2 is 0"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.Resamples = -1 }, "resamples"},
		{func(_ *FeatureMatrix, o *IdentifiabilityOptions) { o.Top = -1 }, "top"},
	} {
		m, o := twoSets(20, 1, noise), DefaultIdentifiabilityOptions()
		tt.change(m, &o)
		if _, err := Identify(context.Background(), m, o, func() {}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want one with %q", err, tt.want)
		}
	}
}

// Null, constant and infinitesimal features do no harm to the scaling.
func TestScaling(t *testing.T) {
	nan := math.NaN()
	x := [][]float64{{1, 5, nan}, {3, 5, nan}, {nan, 5, nan}}
	s := scalingOf(x, 3)
	want := [][]float64{{-1, 0, 0, 1}, {1, 0, 0, 1}, {0, 0, 0, 1}} // the last is for the intercept
	scaled := s.apply(x)
	for i := range want {
		if row := scaled.RawRowView(i); !slices.Equal(row, want[i]) {
			t.Errorf("row %d is %v, want %v", i, row, want[i])
		}
	}
}
