package eval

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// Three data sets of unequal size, of which two differ in one feature and the third
// in another: the report names sizes, shares and features, and its tables hold them.
func TestIdentifyReport(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	m := &FeatureMatrix{Names: []string{"noise", "rate", "level"}, LeftOut: 1}
	add := func(group string, people, recordings int, rate, level float64) {
		for p := range people {
			for range recordings {
				m.Rows = append(m.Rows, FeatureVector{Group: group, Person: fmt.Sprint(group, p), Values: []float64{random.NormFloat64(), rate + random.NormFloat64(), level + random.NormFloat64()}})
			}
		}
	}
	add("b", 12, 2, 0, 0)
	add("a", 10, 3, 30, 0)
	add("c", 4, 1, 0, -40)
	o := DefaultIdentifiabilityOptions()
	o.By, o.Resamples, o.Top, o.Seed = Grouping{"site"}, 300, 2, 4
	steps := 0
	r, err := Identify(context.Background(), m, o, func() { steps++ })
	if err != nil {
		t.Fatal(err)
	}
	if steps != 5 || r.Recordings != 58 || r.People != 26 || r.Features != 3 || r.Dropped != 0 || r.By != "site" || r.Folds != 5 || r.Seed != 4 || r.Resamples != 300 || r.L2 != 1 {
		t.Errorf("%d steps: %+v", steps, r)
	}
	if want := 30. / 58; r.Largest != want {
		t.Errorf("the largest has %v, want %v", r.Largest, want)
	}
	one := Estimate{1, 1, 1}
	for i, want := range []IdentifiedAs{{"a", 30, 10, one, one}, {"b", 24, 12, one, one}, {"c", 4, 4, one, one}} {
		if r.Classes[i] != want {
			t.Errorf("class %+v, want %+v", r.Classes[i], want)
		}
	}
	if r.Accuracy != one || r.BalancedAccuracy != one || r.AUC != one {
		t.Errorf("accuracy %v, balanced %v, area %v", r.Accuracy, r.BalancedAccuracy, r.AUC)
	}
	if want := []FeatureRating{{"rate", "a", 1, higher}, {"level", "c", 1, lower}}; !slices.Equal(r.Top, want) {
		t.Errorf("features %v, want %v", r.Top, want)
	}
	if want := []string{"1 recording left out: no features, or no value of site", "c has 4 people, fewer than there are folds: its figures say little"}; !slices.Equal(r.Warnings, want) {
		t.Errorf("warnings %q, want %q", r.Warnings, want)
	}
	var b, paper bytes.Buffer
	if err := errors.Join(r.WriteText(&b), r.WriteTable(&paper, "csv")); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{
		"3 values of site told apart by 3 features of 58 recordings of 26 people", "5 folds by person", "300 resamples, seed 4", "0 features left out",
		"accuracy 1.000 (1.000 to 1.000) 0.517", "balanced accuracy 1.000 (1.000 to 1.000) 0.333", "mean over classes 1.000 (1.000 to 1.000) 0.500",
		"a 30 10 1.000 (1.000 to 1.000) 1.000 (1.000 to 1.000)", "rate a higher 1.000 level c lower 1.000",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	if !strings.Contains(paper.String(), "c,4,4,1.000,1.000,1.000,1.000,1.000,1.000") {
		t.Errorf("table\n%s", paper.String())
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Identify(ctx, m, o, func() {}); !errors.Is(err, context.Canceled) {
		t.Errorf("after an interrupt: %v", err)
	}
}

// Six recordings of four people by hand, with weights of people: of a, 1 of 3 right;
// of b, 3 of 5.
func TestFiguresByHand(t *testing.T) {
	d := &groupedFeatures{classes: []string{"a", "b"}, y: []int{0, 0, 1, 1, 1, 1}, person: []int{0, 1, 2, 2, 3, 3}}
	p := mat.NewDense(6, 2, []float64{0.9, 0.1, 0.3, 0.7, 0.2, 0.8, 0.6, 0.4, 0.4, 0.6, 0.3, 0.7})
	got := newClassScorer(d, p).figures([]float64{1, 2, 0.5, 2})
	// Areas with the weights 1, 2 of a and 0.5, 0.5, 2, 2 of b: pairs in the right order
	// count their weights' product, ties half.
	area := (1*5 + 2*(0.5+0.5*2)) / (3 * 5.)
	want := []float64{(1 + 4.5) / 8, (1./3 + 4.5/5) / 2, area, 1. / 3, area, 4.5 / 5, area}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-12 {
			t.Errorf("figure %d is %v, want %v", i, got[i], want[i])
		}
	}
}

// A feature counts where it has a value in more than half of the recordings and
// varies; people and classes keep their numbers.
func TestGroupedFeatures(t *testing.T) {
	nan := math.NaN()
	m := &FeatureMatrix{Names: []string{"half", "most", "constant", "all"}, Rows: []FeatureVector{
		{"y", "p", []float64{1, 1, 3, 4}}, {"x", "q", []float64{2, 2, 3, 5}}, {"y", "p", []float64{nan, 3, nan, 6}}, {"z", "r", []float64{nan, nan, 3, 7}},
	}}
	d := newGroupedFeatures(m)
	if !slices.Equal(d.names, []string{"most", "all"}) || !slices.Equal(d.classes, []string{"x", "y", "z"}) || !slices.Equal(d.y, []int{1, 0, 1, 2}) || !slices.Equal(d.person, []int{0, 1, 0, 2}) {
		t.Errorf("features %v, classes %v %v, people %v", d.names, d.classes, d.y, d.person)
	}
	if want := []Person{{"p", "y"}, {"q", "x"}, {"r", "z"}}; !slices.Equal(d.people, want) {
		t.Errorf("people %v, want %v", d.people, want)
	}
	if got := fmt.Sprint(d.x, d.strata(), d.isOf(1)); got != "[[1 4] [2 5] [3 6] [NaN 7]] [[1] [0] [2]] [true false true false]" {
		t.Errorf("values, strata, class: %s", got)
	}
	// Rated on their values alone: "all" tells z by 7 > 4, 5, 6, and "most" tells nothing.
	if got := d.rate(5); !slices.Equal(got, []FeatureRating{{"all", "z", 1, higher}}) {
		t.Errorf("ratings %v", got)
	}
}

func TestIdentifiabilityOptionsHaveBounds(t *testing.T) {
	for _, tt := range []struct {
		change func(*IdentifiabilityOptions)
		ok     bool
	}{
		{func(o *IdentifiabilityOptions) { o.Folds = 2 }, true}, {func(o *IdentifiabilityOptions) { o.Folds = 1000 }, true},
		{func(o *IdentifiabilityOptions) { o.Folds = 1001 }, false}, {func(o *IdentifiabilityOptions) { o.Top = 0 }, true},
		{func(o *IdentifiabilityOptions) { o.Top = 10_000 }, true}, {func(o *IdentifiabilityOptions) { o.Top = 10_001 }, false},
		{func(o *IdentifiabilityOptions) { o.L2 = math.Inf(1) }, false}, {func(o *IdentifiabilityOptions) { o.L2 = math.NaN() }, false},
		{func(o *IdentifiabilityOptions) { o.L2 = 1e-9 }, true}, {func(o *IdentifiabilityOptions) { o.Resamples = 100_001 }, false},
	} {
		o := DefaultIdentifiabilityOptions()
		tt.change(&o)
		if err := o.Validate(); (err == nil) != tt.ok {
			t.Errorf("%+v: %v", o, err)
		}
	}
	if o := DefaultIdentifiabilityOptions(); o.Folds != 5 || o.Seed != 1 || o.Resamples != 1000 || o.L2 != 1 || o.Top != 10 || o.By.String() != "data_set" {
		t.Errorf("defaults %+v", o)
	}
}
