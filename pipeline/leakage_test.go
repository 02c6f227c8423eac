package pipeline

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/table"
)

// leakReference is what testdata/leakage/regression.py wrote.
type leakReference struct {
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

func loadLeakReference(t *testing.T) leakReference {
	t.Helper()
	var ref leakReference
	content, err := os.ReadFile(filepath.Join("..", "testdata", "leakage", "regression.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(content, &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v within %v", what, got, want, tolerance)
	}
}

// The regression is that of scikit-learn, and so are the figures.
func TestMultinomialAgainstScikitLearn(t *testing.T) {
	ref := loadLeakReference(t)
	for _, c := range ref.Cases {
		m, err := fitMultinomial(ref.X, ref.Y, 3, c.C)
		if err != nil {
			t.Fatal(err)
		}
		var mean float64 // of the intercepts, which are determined up to a constant
		for k := range 3 {
			mean += m.parameters[k*(m.width+1)+m.width] / 3
		}
		for k := range 3 {
			w := m.parameters[k*(m.width+1):]
			for j, want := range c.Coefficients[k] {
				near(t, fmt.Sprintf("C %v: coefficient %d of class %d", c.C, j, k), w[j], want, 1e-5)
			}
			near(t, fmt.Sprintf("C %v: intercept of class %d", c.C, k), w[m.width]-mean, c.Intercepts[k], 1e-5)
		}
		probabilities := make([][]float64, len(ref.X))
		d := &leakData{y: ref.Y, classes: []string{"a", "b", "c"}}
		people := make([]float64, len(ref.X))
		for i, row := range ref.X {
			probabilities[i] = make([]float64, 3)
			m.probabilities(probabilities[i], row)
			if i < len(c.Probabilities) {
				for k, want := range c.Probabilities[i] {
					near(t, "probability", probabilities[i][k], want, 1e-5)
				}
			}
			d.person = append(d.person, i)
			people[i] = 1
		}
		figures := newLeakScorer(d, probabilities).figures(people)
		near(t, "accuracy", figures[0], c.Accuracy, 1e-12)
		near(t, "balanced accuracy", figures[1], c.BalancedAccuracy, 1e-12)
		for k, want := range c.AUC {
			near(t, "area under the curve", figures[4+2*k], want, 1e-12)
		}
	}
}

func TestAUCOfTies(t *testing.T) {
	ties := loadLeakReference(t).Ties
	positive, ones := make([]bool, len(ties.Score)), make([]float64, len(ties.Score))
	for i := range positive {
		positive[i], ones[i] = ties.Positive[i] == 1, 1
	}
	order := ascending(ties.Score)
	near(t, "area", auc(order, ties.Score, positive, ones), ties.AUC, 1e-12)
	near(t, "weighted area", auc(order, ties.Score, positive, ties.Weight), ties.WeightedAUC, 1e-12)
	if a := auc(order, ties.Score, make([]bool, len(positive)), ones); !math.IsNaN(a) {
		t.Errorf("area without positives is %v, want NaN", a)
	}
}

// leakTable writes recordings of two data sets, four a person, whose features
// the function draws.
func leakTable(t *testing.T, people int, seed uint64, draw func(set int, random *rand.Rand) (rr, level float64)) string {
	t.Helper()
	random := rand.New(rand.NewPCG(seed, 7))
	var rows []table.Record[table.Recording]
	for p := range people {
		set := p % 2
		rr, level := draw(set, random)
		for i := range 4 {
			rows = append(rows, table.Record[table.Recording]{
				Row: table.Recording{
					Recording: fmt.Sprintf("%03d_%d", p, i), Source: []string{"a", "b"}[set], Person: fmt.Sprintf("%03d", p), Audio: "x", Outcome: table.Done,
					Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN(),
				},
				Cells: table.Cells{Labels: []string{[]string{"Absent", "Present"}[p/2%2], ""}, Floats: []float64{rr, level}},
			})
		}
	}
	return writeRecordings(t, rows)
}

// Two data sets that differ in a level are told apart; the level is named.
func TestLeakageFindsALevel(t *testing.T) {
	dir := leakTable(t, 60, 1, func(set int, random *rand.Rand) (float64, float64) {
		return random.NormFloat64(), -20 + 10*float64(set) + random.NormFloat64()
	})
	o := DefaultLeakageOptions()
	o.Resamples = 200
	leak, err := Leakage(context.Background(), []string{dir}, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	if leak.AUC.Value < 0.99 || leak.Accuracy.Value < 0.99 || leak.People != 60 || leak.Recordings != 240 {
		t.Errorf("%+v", leak)
	}
	if first := leak.Telling[0]; first.Name != "raw_rms_db" || math.Abs(first.AUC-0.5) < 0.49 {
		t.Errorf("most telling %+v, want raw_rms_db", first)
	}
	again, err := Leakage(context.Background(), []string{dir}, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	var a, b strings.Builder
	if err := leak.WriteText(&a); err != nil {
		t.Fatal(err)
	}
	if err := again.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	if a.String() != b.String() {
		t.Error("two reports on the same tables differ")
	}
}

// Features that tell the person and nothing else do not tell the data set of
// people who were left out, and most intervals say so. (On noise the area comes
// out a little below one half: whom a fold lacks, the others have too many of.)
func TestLeakageIsByPerson(t *testing.T) {
	o := DefaultLeakageOptions()
	o.Resamples = 200
	const trials = 40
	var mean float64
	covered := 0
	for seed := range uint64(trials) {
		dir := leakTable(t, 100, seed, func(_ int, random *rand.Rand) (float64, float64) {
			return random.NormFloat64(), random.NormFloat64()
		})
		leak, err := Leakage(context.Background(), []string{dir}, o, nil)
		if err != nil {
			t.Fatal(err)
		}
		mean += float64(leak.AUC.Value) / trials
		if leak.AUC.Low <= 0.5 && leak.AUC.High >= 0.5 {
			covered++
		}
	}
	t.Logf("mean area %.3f, %d of %d intervals hold one half", mean, covered, trials)
	if math.Abs(mean-0.5) > 0.05 || covered < trials*3/4 {
		t.Errorf("mean area %.3f of noise, %d of %d intervals hold one half", mean, covered, trials)
	}
}

func TestLeakageErrors(t *testing.T) {
	dir := leakTable(t, 20, 1, func(int, *rand.Rand) (float64, float64) { return 1, 2 })
	for _, tt := range []struct {
		dirs   []string
		change func(*LeakageOptions)
		want   string
	}{
		{nil, func(*LeakageOptions) {}, "--tables"},
		{[]string{t.TempDir()}, func(*LeakageOptions) {}, "part files"},
		{[]string{dir}, func(o *LeakageOptions) { o.By = "murmurs" }, "murmur"},
		{[]string{dir}, func(o *LeakageOptions) { o.By = "age_group" }, "nothing to tell apart"},
		{[]string{dir}, func(o *LeakageOptions) { o.Folds = 1 }, "folds"},
		{[]string{dir}, func(o *LeakageOptions) { o.Folds = 99 }, "folds"},
		{[]string{dir}, func(o *LeakageOptions) { o.C = 0 }, "c is 0"},
		{[]string{dir}, func(o *LeakageOptions) { o.Resamples = -1 }, "resamples"},
	} {
		o := DefaultLeakageOptions()
		tt.change(&o)
		if _, err := Leakage(context.Background(), tt.dirs, o, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v: %v, want an error with %q", tt.dirs, err, tt.want)
		}
	}
}

// Null, constant and infinitesimal features do no harm to the scaling.
func TestScaling(t *testing.T) {
	nan := math.NaN()
	x := [][]float64{{1, 5, nan}, {3, 5, nan}, {nan, 5, nan}}
	s := scalingOf(x, 3)
	want := [][]float64{{-1, 0, 0}, {1, 0, 0}, {0, 0, 0}}
	for i, row := range s.apply(x) {
		if !slices.Equal(row, want[i]) {
			t.Errorf("row %d is %v, want %v", i, row, want[i])
		}
	}
}
