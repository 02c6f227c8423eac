package eval

import (
	"bytes"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The text of a comparison of the cases of [unevenCases] with the same ones found
// perfectly stands in testdata/eval/runs.txt.
func TestTextOfAComparison(t *testing.T) {
	run := func(name string, predict func(*Case)) Run {
		s, err := NewScorer(DefaultRules())
		if err != nil {
			t.Fatal(err)
		}
		acc := NewAccumulator(DefaultRules(), Options{Resamples: 400, Seed: 3})
		for _, c := range unevenCases() {
			predict(&c)
			r := s.Score(&c)
			acc.Add(&r)
		}
		return Run{Name: name, Results: acc}
	}
	perfect := func(c *Case) {
		if c.Recording != "dee-1" {
			c.Failed, c.Predicted = false, c.Reference.Intervals
		}
	}
	c, err := Compare([]Run{run("perfect", perfect), run("uneven", func(*Case) {}), run("late", func(c *Case) { c.Predicted = shifted(c.Predicted, 45*ms) })}, Options{Resamples: 400, Seed: 2})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := c.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	checkText(t, filepath.Join("..", "testdata", "eval", "runs.txt"), b.Bytes())
	if c.People != 6 || c.Recordings != 8 || c.Seed != 2 || c.Resamples != 400 {
		t.Errorf("%d people, %d recordings, seed %d, %d resamples", c.People, c.Recordings, c.Seed, c.Resamples)
	}
	for i, want := range []ComparedRun{{Name: "perfect", Recordings: 8}, {Name: "uneven", Recordings: 8, Failed: 1}, {Name: "late", Recordings: 8, Failed: 1}} {
		if r := c.Runs[i]; r.Name != want.Name || r.Recordings != want.Recordings || r.Failed != want.Failed || !r.Cost.Null() {
			t.Errorf("%+v, want %+v", r, want)
		}
	}
}

// A difference is supported where interval and test agree.
func TestJudgement(t *testing.T) {
	none := null()
	for _, tt := range []struct {
		difference, low, high, p Ratio
		better, words            string
	}{
		{0.02, 0.01, 0.03, 0.04, "b", "The data support that b is better than a: b is 2.0 points above a in mean F1 over people (95 % interval +1.0 to +3.0), adjusted p 0.04."},
		{-0.02, -0.03, -0.01, 0.04, "a", "The data support that a is better than b: a is 2.0 points above b in mean F1 over people (95 % interval +1.0 to +3.0), adjusted p 0.04."},
		{0.02, 0.01, 0.03, 0.05, "", "Undecided between a and b: interval and test disagree; b is 2.0 points above a in mean F1 over people (95 % interval +1.0 to +3.0), adjusted p 0.05."},
		{0.02, 0, 0.03, 0.04, "", "Undecided between a and b: interval and test disagree; b is 2.0 points"},
		{-0.02, -0.03, 0, 0.04, "", "Undecided between a and b: interval and test disagree; a is 2.0 points above b in mean F1 over people (95 % interval +0.0 to +3.0)"},
		{0.02, -0.01, 0.03, 0.05, "", "The data do not tell a and b apart: b is 2.0 points above a in mean F1 over people (95 % interval -1.0 to +3.0), adjusted p 0.05. This does not prove that they are equal."},
		{0, 0, 0, none, "", "The data do not tell a and b apart: b is 0.0 points above a"},
		{0.02, none, none, 0.5, "", "No statement on a and b: there are too few people for an interval."},
	} {
		p := Pair{First: "a", Second: "b", AdjustedP: tt.p, Differences: []Difference{
			{Class: Both, Aggregate: Pooled, Difference: 1, Low: 1, High: 1}, {Class: S1, Aggregate: PerPerson, Difference: 1, Low: 1, High: 1},
			{Class: Both, Aggregate: PerPerson, Difference: tt.difference, Low: tt.low, High: tt.high},
		}}
		p.judge(Both)
		if words := strings.ReplaceAll(strings.ReplaceAll(p.Words, "−", "-"), "  ", " "); p.Better != tt.better || !strings.HasPrefix(words, tt.words) {
			t.Errorf("%v (%v to %v), p %v: better %q: %s\nwant %q: %s", tt.difference, tt.low, tt.high, tt.p, p.Better, words, tt.better, tt.words)
		}
	}
}

// Rank sums by hand: |d| 1, 2, 2, 4 have the ranks 1, 2.5, 2.5, 4. Of the sixteen
// assignments of signs two reach a sum of 9 or more.
func TestWilcoxonByHand(t *testing.T) {
	got := wilcoxon([]float64{-1, 2, 0, 2, 4, 1e-13})
	if want := (SignedRank{N: 4, Zeros: 2, W: 9, P: 0.25, Exact: true}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	var d []float64
	for i := range 51 {
		d = append(d, float64(i+1))
	}
	if got := wilcoxon(d[:50]); !got.Exact || float64(got.P) != math.Ldexp(1, -49) {
		t.Errorf("fifty of one sign: %+v, want p 2^-49", got)
	}
	// With 51 the sum 1326 is 663 above its mean, with variance 51·52·103/24.
	z := 663 / math.Sqrt(51*52*103/24.)
	if got := wilcoxon(d); got.Exact || math.Abs(float64(got.P)-math.Erfc(z/math.Sqrt2)) > 1e-20 {
		t.Errorf("fifty-one of one sign: %+v", got)
	}
	if got := holm([]Ratio{0.03, 0.01, 0.5, 0.02}); !slices.Equal(got, []Ratio{0.06, 0.04, 0.5, 0.06}) {
		t.Errorf("adjusted p %v", got)
	}
	if got := holm([]Ratio{0.7, 0.6}); !slices.Equal(got, []Ratio{1, 1}) {
		t.Errorf("adjusted p %v", got)
	}
}

// Runs are on the same recordings where the references agree, whatever was found.
func TestSameBasisNamesTheDifference(t *testing.T) {
	for _, tt := range []struct {
		change func(i int, c *Case)
		want   string
	}{
		{func(i int, c *Case) { c.Failed = i == 3 }, ""},
		{func(i int, c *Case) {
			if i == 47 {
				c.Reference.Intervals = c.Reference.Intervals[:len(c.Reference.Intervals)-2]
			}
		}, "r47 has 10 reference S2 against 9"},
	} {
		a, b := runOf(t, "a", DefaultRules(), 0, 1, nil), runOf(t, "b", DefaultRules(), 0, 1, tt.change)
		if got := a.Results.difference(&b.Results.cohort); got != tt.want {
			t.Errorf("difference %q, want %q", got, tt.want)
		}
	}
	a, b := runOf(t, "a", DefaultRules(), 0, 1, nil), runOf(t, "b", DefaultRules(), 0, 1, nil)
	b.Results.recordings = b.Results.recordings[:40]
	if got := a.Results.difference(&b.Results.cohort); got != "48 against 40" {
		t.Errorf("difference %q", got)
	}
	if _, err := Compare([]Run{a, {Results: b.Results}}, Options{}); err == nil || !strings.Contains(err.Error(), "one has no name") {
		t.Errorf("a run without a name: %v", err)
	}
	if _, err := Compare([]Run{a, b}, Options{Resamples: -1}); err == nil || !strings.Contains(err.Error(), "compare: resamples is -1") {
		t.Errorf("negative resamples: %v", err)
	}
}
