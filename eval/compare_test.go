package eval

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// runOf accumulates a made-up run: 24 people with two recordings of ten
// cycles, of whose sounds a method misses some at random. Hard people are hard
// for all methods.
func runOf(t testing.TB, name string, rules Rules, missed float64, seed uint64, edit func(i int, c *Case)) Run {
	t.Helper()
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	acc := NewAccumulator(rules, Options{Seed: 1})
	for i := range 48 {
		hardness := 0.3 * float64(i/2%4)
		random := rand.New(rand.NewPCG(seed, uint64(i)))
		c := Case{Recording: fmt.Sprintf("r%02d", i), Person: fmt.Sprintf("p%02d", i/2), Reference: fromIntervals(beats(500*ms, 10)), Length: 10 * time.Second}
		for _, iv := range c.Reference.Intervals {
			if random.Float64() > missed+hardness*0.5 {
				c.Predicted = append(c.Predicted, iv)
			}
		}
		if edit != nil {
			edit(i, &c)
		}
		r := s.Score(&c)
		acc.Add(&r)
	}
	return Run{Name: name, Results: acc}
}

// The scores of a run stand in a comparison as in its own summary, intervals
// included, though differences have more resamples.
func TestComparedScoresAreThoseOfTheSummary(t *testing.T) {
	rules := DefaultRules()
	one, other := runOf(t, "one", rules, 0.05, 1, nil), runOf(t, "other", rules, 0.15, 2, nil)
	c, err := Compare([]Run{one, other}, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if c.Resamples != 20_000 {
		t.Errorf("differences have %d resamples", c.Resamples)
	}
	summary := one.Results.Summary()
	if summary.Resamples != 2000 {
		t.Errorf("scores have %d resamples", summary.Resamples)
	}
	for _, got := range c.Scores[:len(c.Scores)/2] {
		want := find(t, summary, got.Class, got.Aggregate, "")
		if got.Run != "one" || got.Low != want.Low || got.High != want.High || got.F1 != want.F1 {
			t.Errorf("%s, %v %v: F1 %v (%v to %v), want %v (%v to %v)", got.Run, got.Class, got.Aggregate, got.F1, got.Low, got.High, want.F1, want.Low, want.High)
		}
	}
}

func TestCompareSupportsARealDifference(t *testing.T) {
	rules := DefaultRules()
	good, poor := runOf(t, "good", rules, 0.05, 1, nil), runOf(t, "poor", rules, 0.15, 2, nil)
	c, err := Compare([]Run{poor, good}, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	p := c.Pairs[0]
	if p.Better != "good" || !strings.HasPrefix(p.Words, "The data support that good is better than poor") {
		t.Errorf("better %q: %s", p.Better, p.Words)
	}
	a, b := poor.Results.Summary(), good.Results.Summary()
	for _, d := range p.Differences {
		first, second := find(t, a, d.Class, d.Aggregate, ""), find(t, b, d.Class, d.Aggregate, "")
		if d.First != first.F1 || d.Second != second.F1 || math.Abs(float64(d.Difference-(second.F1-first.F1))) > 1e-15 {
			t.Errorf("%v %v: %v − %v is given as %v", d.Class, d.Aggregate, second.F1, first.F1, d.Difference)
		}
		// Pairing takes out how hard a person is, which both share.
		if d.High-d.Low >= first.High-first.Low {
			t.Errorf("%v %v: interval of the paired difference, %v to %v, is no narrower than %v to %v of a run", d.Class, d.Aggregate, d.Low, d.High, first.Low, first.High)
		}
	}
	turned, err := Compare([]Run{good, poor}, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if q := turned.Pairs[0]; q.Better != "good" || math.Abs(float64(q.Test.P-p.Test.P)) > 1e-12 {
		t.Errorf("turned round: better %q, p %v against %v", q.Better, q.Test.P, p.Test.P)
	}
}

func TestCompareDoesNotTellApartWhatIsAlike(t *testing.T) {
	rules := DefaultRules()
	a, b := runOf(t, "a", rules, 0.1, 1, nil), runOf(t, "b", rules, 0.1, 3, nil)
	c, err := Compare([]Run{a, b, {Name: "a again", Results: a.Results}}, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs) != 3 {
		t.Fatalf("%d pairs of three runs", len(c.Pairs))
	}
	for _, p := range c.Pairs {
		if p.Better != "" || !strings.Contains(p.Words, "do not tell") {
			t.Errorf("%s − %s: %s", p.Second, p.First, p.Words)
		}
	}
	same := c.Pairs[1] // a again − a
	if d := same.difference(Both, PerPerson); d.Difference != 0 || d.Low != 0 || d.High != 0 || !same.Test.P.Null() {
		t.Errorf("a run differs from itself: %+v, p %v", d, same.Test.P)
	}
	var text bytes.Buffer
	if err := c.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(text.String()) {
		if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > 100 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	if testing.Verbose() {
		t.Log("\n" + text.String())
	}
}

func TestCompareRefuses(t *testing.T) {
	rules := DefaultRules()
	onset := rules
	onset.Anchor = Onset
	a := runOf(t, "a", rules, 0.1, 1, nil)
	tests := []struct {
		name string
		runs []Run
		want string
	}{
		{"one run", []Run{a}, "1 run: give two"},
		{"same name", []Run{a, a}, `named "a"`},
		{"other rules", []Run{a, runOf(t, "b", onset, 0.1, 1, nil)}, "different rules, anchor: centre against onset"},
		{"other recording", []Run{a, runOf(t, "b", rules, 0.1, 1, func(i int, c *Case) {
			if i == 7 {
				c.Recording = "other"
			}
		})}, "number 8 is r07 against other"},
		{"other person", []Run{a, runOf(t, "b", rules, 0.1, 1, func(i int, c *Case) {
			if i == 7 {
				c.Person = ""
			}
		})}, "r07 is of person p03 against not stated"},
		{"other reference", []Run{a, runOf(t, "b", rules, 0.1, 1, func(i int, c *Case) {
			if i == 7 {
				c.Reference = fromIntervals(beats(500*ms, 9))
			}
		})}, "r07 has 10 reference S1 against 9"},
		{"no reference", []Run{a, runOf(t, "b", rules, 0.1, 1, func(i int, c *Case) {
			if i == 7 {
				c.Reference = pcg.Reference{}
			}
		})}, "r07 is scored against excluded"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := Compare(tt.runs, Options{}); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
	failed := runOf(t, "b", rules, 0.1, 1, func(i int, c *Case) { c.Failed = i == 7 })
	if _, err := Compare([]Run{a, failed}, Options{}); err != nil {
		t.Errorf("a run with a failed recording is refused: %v", err)
	}
}
