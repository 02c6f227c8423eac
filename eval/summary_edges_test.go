package eval

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// Rows of the sweep say how many people and recordings they are over, and have
// intervals at the anchor of the headline alone.
func TestSweepRows(t *testing.T) {
	s := unevenSummary(t, Options{Resamples: 100})
	people, recordings := map[Anchor]int{Centre: 6, Onset: 5, Offset: 5}, map[Anchor]int{Centre: 8, Onset: 7, Offset: 7}
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} {
			rows := s.Scores.Sweep(class, anchor)
			if len(rows) != 8 {
				t.Fatalf("%v at the %v: %d rows", class, anchor, len(rows))
			}
			for i, row := range rows {
				if row.People != people[anchor] || row.Recordings != recordings[anchor] {
					t.Errorf("%v at the %v: %d people, %d recordings", class, anchor, row.People, row.Recordings)
				}
				if (anchor == Centre) == row.Low.Null() || row.Low.Null() != row.High.Null() || row.Low > row.F1 || row.F1 > row.High {
					t.Errorf("%v at the %v within %v ms: F1 %v, interval %v to %v", class, anchor, row.ToleranceMS, row.F1, row.Low, row.High)
				}
				if want := []float64{20, 30, 40, 50, 60, 80, 100, 150}[i]; row.ToleranceMS != want {
					t.Errorf("row %d is at %v ms", i, row.ToleranceMS)
				}
				if r := (counts{row.TP, row.FP, row.FN}).ratios(); row.Recall != r[0] || row.Precision != r[1] || row.F1 != r[2] {
					t.Errorf("%v at the %v within %v ms: recall %v, precision %v, F1 %v of %d, %d, %d", class, anchor, row.ToleranceMS, row.Recall, row.Precision, row.F1, row.TP, row.FP, row.FN)
				}
			}
			// At 50 ms as at 60 ms all pairs are found: the same people give the same interval.
			if a, b := rows[3], rows[4]; anchor == Centre && (a.F1 != b.F1 || a.Low != b.Low || a.High != b.High) {
				t.Errorf("%v: %v (%v to %v) within 50 ms and %v (%v to %v) within 60 ms", class, a.F1, a.Low, a.High, b.F1, b.Low, b.High)
			}
		}
	}
	onset := s.Scores.Sweep(S2, Onset)
	if n := onset[0]; n.TP != 21 || n.FP != 10 || n.FN != 17 {
		t.Errorf("S2 at the onset within 20 ms: TP, FP, FN %d, %d, %d; want 21, 10, 17", n.TP, n.FP, n.FN)
	}
	if s.HeadlineRow.Class != Both || s.HeadlineRow.Aggregate != Pooled || s.HeadlineRow.TP != 53 {
		t.Errorf("headline %+v", s.HeadlineRow)
	}
}

// Each warning stands where its cause does, and only there.
func TestWarnings(t *testing.T) {
	whole := beats(500*ms, 4)
	add := func(acc *Accumulator, cases ...Case) *Summary {
		for _, c := range cases {
			c.Length = cmp.Or(c.Length, 5*time.Second)
			r := mustScore(t, acc.rules, c)
			acc.Add(&r)
		}
		return acc.Summary()
	}
	good := func(recording, person string) Case {
		return Case{Recording: recording, Person: person, Reference: fromIntervals(whole), Predicted: whole[:len(whole)-4]}
	}
	var many, failed []Case
	for i := range 12 {
		many = append(many, good(fmt.Sprint("r", i), fmt.Sprint("p", i)), good(fmt.Sprint("s", i), fmt.Sprint("p", i)))
		failed = append(failed, Case{Recording: fmt.Sprint("t", i), Person: fmt.Sprint("p", i), Reference: fromIntervals(whole), Failed: true})
	}
	early := slices.Clone(many)
	for i := range early { // the last state ends at 3.7 s
		early[i].Length = 7 * time.Second
		early[i].Strata = []pcg.Label{{Name: ByDataSet, Value: "a set"}}
	}
	onset := DefaultRules()
	onset.Anchor = Onset
	points := pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{{At: time.Second, Sound: pcg.S1}}}
	for _, tt := range []struct {
		name  string
		rules Rules
		o     Options
		cases []Case
		want  []string // what the warnings begin with
	}{
		{"none", DefaultRules(), Options{}, many, nil},
		{"no reference", DefaultRules(), Options{}, []Case{{Recording: "a", Person: "a", Predicted: whole}}, []string{"no recording has a reference annotation: nothing is scored"}},
		{"one left out", DefaultRules(), Options{}, append([]Case{{Recording: "a", Person: "a", Predicted: whole}}, many...), []string{"1 recording without a usable reference"}},
		{"one of each", DefaultRules(), Options{}, []Case{good("a", "a"), good("b", "b")}, []string{"each person has one recording", "the errors lie with few of 2 people, as unevenly as if 2.0 people"}},
		{"one person", DefaultRules(), Options{}, []Case{good("a", "a"), good("b", "a")}, []string{"no interval can be given from fewer than two people"}},
		{"unnamed", DefaultRules(), Options{}, append([]Case{good("a", ""), good("b", "")}, many...), []string{"the person of 2 recordings is not stated"}},
		{"failed", DefaultRules(), Options{}, append(failed, many...), []string{"12 recordings without output"}},
		{"ending early", DefaultRules(), Options{}, early, []string{"data set a set: the reference of 24 of 24 recordings ends before 55 % of the recording: check unit and base"}},
		{"one of two sets ending early", DefaultRules(), Options{}, append(early, many...), []string{"data set a set: the reference of 24 of 24 recordings ends before 55 %"}},
		{"few resamples", DefaultRules(), Options{Resamples: 1999}, many, []string{"1999 resamples are too few for a stable interval: take 2000 or more"}},
		{"points at the onset", onset, Options{}, append([]Case{{Recording: "a", Person: "p1", Reference: points, Predicted: whole}}, many...), []string{"1 recording with points, which have a centre only: not in the scores at the onset"}},
	} {
		got := add(NewAccumulator(tt.rules, tt.o), tt.cases...).Warnings
		ok := len(got) == len(tt.want)
		for i := range min(len(got), len(tt.want)) {
			ok = ok && strings.HasPrefix(got[i], tt.want[i])
		}
		if !ok {
			t.Errorf("%s: warnings %q, want %q", tt.name, got, tt.want)
		}
	}
	for _, tt := range []struct {
		n    float64
		want bool
	}{{9.99, true}, {10, false}} {
		if got := fewPeopleWarning("the errors", tt.n, 30); (got != "") != tt.want {
			t.Errorf("%v people: warning %q", tt.n, got)
		}
	}
	if got := fewPeopleWarning("the errors", 0, 30); !strings.HasPrefix(got, "the errors: none with 30 people") {
		t.Errorf("no errors: warning %q", got)
	}
}

// The difference of two runs lies with the people whose errors differ, false and
// missed ones together.
func TestErrorsApart(t *testing.T) {
	group := func(n ...classCounts) *group {
		g := &group{clusters: clusters{columns: groupColumns}}
		g.grow(len(n))
		for i, c := range n {
			for class := range c {
				c[class].addTo(g.row(i), Class(class))
			}
		}
		return g
	}
	a := group(classCounts{{9, 1, 2}, {9, 0, 4}}, classCounts{{9, 5, 0}, {9, 0, 0}}, classCounts{{9, 2, 3}, {9, 0, 0}})
	b := group(classCounts{{9, 0, 0}, {9, 0, 0}}, classCounts{{9, 0, 5}, {9, 3, 9}}, classCounts{{9, 3, 2}, {9, 0, 0}})
	if got := slices.Collect(a.errorsApart(b)); !slices.Equal(got, []float64{7, 12, 0}) {
		t.Errorf("errors differ by %v, want 7, 12, 0", got)
	}
	if got := slices.Collect(b.errors()); !slices.Equal(got, []float64{0, 17, 5}) {
		t.Errorf("errors %v, want 0, 17, 5", got)
	}
	for range a.errorsApart(b) {
		break // the sequences must stop when asked to
	}
	for range a.errors() {
		break
	}
}

func TestParseGrouping(t *testing.T) {
	for _, tt := range []struct{ text, want, failure string }{
		{"site", "site", ""}, {" site , heart_rate", "site,heart_rate", ""},
		{"", "", "a name is empty"}, {"site,", "", "a name is empty"}, {"site,age,site", "", "site is named twice"},
	} {
		g, err := ParseGrouping(tt.text)
		if tt.failure == "" && (err != nil || g.String() != tt.want) || tt.failure != "" && (err == nil || !strings.Contains(err.Error(), tt.failure)) {
			t.Errorf("%q: %q, %v", tt.text, g, err)
		}
	}
	if err := (Grouping{"site", "data_set", "person", "heart_rate", "reference", "age"}).Check([]string{"age"}); err != nil {
		t.Error(err)
	}
	if err := (Grouping{"age"}).Check([]string{"sex"}); err == nil || !strings.Contains(err.Error(), `no recording has a property "age": valid names are data_set, person, site, heart_rate, reference, sex`) {
		t.Errorf("an unknown property: %v", err)
	}
	values := map[string]string{"site": "apex", "sex": "f"}
	for _, tt := range []struct {
		g    Grouping
		want string
	}{{Grouping{"site", "sex"}, "apex, f"}, {Grouping{"site", "age"}, ""}, {Grouping{"sex"}, "f"}} {
		if got := tt.g.Of(func(name string) string { return values[name] }); got != tt.want {
			t.Errorf("group by %v is %q, want %q", tt.g, got, tt.want)
		}
	}
}

// A label divides the scores up to twenty values; with one more it is named, and
// where it is asked for it divides whatever it has.
func TestStrataByNumberOfValues(t *testing.T) {
	strata := func(values int, o Options) *Summary {
		acc := NewAccumulator(DefaultRules(), o)
		for i := range values {
			c := Case{Recording: fmt.Sprint("r", i), Person: fmt.Sprint("p", i), Reference: fromIntervals(beats(500*ms, 2)), Predicted: beats(500*ms, 2),
				Strata: []pcg.Label{{Name: "height", Value: fmt.Sprint(150 + i)}, {Name: "sex", Value: "f"}}}
			r := mustScore(t, DefaultRules(), c)
			acc.Add(&r)
		}
		return acc.Summary()
	}
	for _, tt := range []struct {
		values, rows int
		o            Options
		notDivided   []string
	}{
		{20, 20, Options{}, nil},
		{21, 0, Options{}, []string{"height"}},
		{25, 0, Options{}, []string{"height"}},
		{25, 25, Options{Strata: Grouping{"height"}}, nil},
		{3, 1, Options{Strata: Grouping{"sex"}}, nil},
		{3, 3, Options{Strata: Grouping{"person"}}, nil},
	} {
		s := strata(tt.values, tt.o)
		if got := len(s.Scores.Strata()); got != tt.rows || !slices.Equal(s.NotDivided, tt.notDivided) {
			t.Errorf("%d values, strata by %v: %d rows, not divided by %v; want %d, %v", tt.values, tt.o.Strata, got, s.NotDivided, tt.rows, tt.notDivided)
		}
		var b bytes.Buffer
		if err := s.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(b.String(), "\nLabels of more than 20 values give no strata: height\n"); got != (tt.notDivided != nil) {
			t.Errorf("%d values: named %v", tt.values, got)
		}
	}
}

// What becomes of recordings is counted by reason, the most frequent first.
func TestCountsByReason(t *testing.T) {
	acc := NewAccumulator(DefaultRules(), Options{Resamples: 20})
	whole := beats(500*ms, 2)
	for i, c := range []Case{
		{Person: "a", Reference: fromIntervals(whole), Predicted: whole},
		{Person: "a", Reference: fromIntervals(whole), Failed: true, Reason: "too short"},
		{Person: "", Reference: fromIntervals(whole), Failed: true, Reason: "too short"},
		{Person: "b"}, {Person: "c"}, {Person: "c"},
		{Person: "d", Reason: "a stray row"},
		{Person: "d", Reference: fromIntervals(whole), Failed: true},
	} {
		c.Recording = fmt.Sprint("r", i)
		r := mustScore(t, DefaultRules(), c)
		acc.Add(&r)
	}
	s := acc.Summary()
	want := Counts{In: 8, Scored: 1, Failed: 3, Excluded: 4, People: 3, Unnamed: 1, ByReason: []ReasonCount{
		{"no reference annotation", 3}, {"too short", 2}, {"a stray row", 1}, {"no reason given", 1}}}
	if c := s.Counts; !slices.Equal(c.ByReason, want.ByReason) || c.In != want.In || c.Scored != want.Scored || c.Failed != want.Failed || c.Excluded != want.Excluded || c.People != want.People || c.Unnamed != want.Unnamed {
		t.Errorf("counts %+v, want %+v", c, want)
	}
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	head := "8 recordings of 3 people: 1 scored, 3 failed, 4 excluded\n  3 × no reference annotation\n  2 × too short\n  1 × a stray row\n  1 × no reason given\n\nScores at the centre within 60 ms\n"
	if !strings.HasPrefix(b.String(), head) {
		t.Errorf("the text begins\n%.300s\nwant\n%s", b.String(), head)
	}
}

// The ends of a BCa interval move out of reach where the acceleration is large, on
// either side; it is then undefined, and the percentile interval stands.
func TestBCaIsUndefinedForLargeAccelerations(t *testing.T) {
	replicates := func() []float64 {
		var list []float64
		for i := range 1001 {
			list = append(list, float64(i))
		}
		return list
	}
	const z = 1.96
	for _, tt := range []struct {
		estimate, a float64
		defined     bool
	}{{500, 0, true}, {500, 0.5, true}, {500, 0.52, false}, {500, -0.5, true}, {500, -0.52, false}, {-1, 0, false}, {1001, 0, false}, {0, 0, true}} {
		i := intervals(tt.estimate, replicates(), tt.a, z)
		if low, high := float64(i.Percentile[0]), float64(i.Percentile[1]); math.Abs(low-25) > 0.1 || math.Abs(high-975) > 0.1 {
			t.Errorf("percentile interval %v to %v, want 25 to 975", low, high)
		}
		if got := !i.BCa[0].Null(); got != tt.defined || got == i.BCa[1].Null() {
			t.Errorf("estimate %v, acceleration %v: BCa %v", tt.estimate, tt.a, i.BCa)
		}
		low, high := i.Best()
		if tt.defined && (low != i.BCa[0] || high != i.BCa[1]) || !tt.defined && (low != i.Percentile[0] || high != i.Percentile[1]) {
			t.Errorf("estimate %v, acceleration %v: best %v to %v", tt.estimate, tt.a, low, high)
		}
	}
	if i := intervals(500, replicates(), 0, z); math.Abs(float64(i.BCa[0])-25) > 0.2 || math.Abs(float64(i.BCa[1])-975) > 0.2 {
		t.Errorf("without bias and acceleration BCa is %v, want 25 to 975", i.BCa)
	}
	// z₀ = 0.2533 for an estimate at the 60th percentile, by hand: Φ(2·0.2533 ± 1.96).
	if i := intervals(600, replicates(), 0, z); math.Abs(float64(i.BCa[0])-73) > 1 || math.Abs(float64(i.BCa[1])-993) > 1 {
		t.Errorf("with bias BCa is %v, want 73 to 993", i.BCa)
	}
	if i := intervals(math.NaN(), replicates(), 0, z); !i.Percentile[0].Null() || !i.BCa[0].Null() {
		t.Errorf("of an undefined figure: %v", i)
	}
	if i := intervals(1, []float64{math.NaN()}, 0, z); !i.Percentile[0].Null() {
		t.Errorf("of undefined resamples: %v", i)
	}
}

// Values of jackknife figures 0, 0, 3 (the third person gone) by hand: mean 1,
// deviations 1, 1, −2, so a = (1 + 1 − 8)/(6 · 6^1.5).
func TestAcceleration(t *testing.T) {
	left := func(yield func([]float64) bool) {
		for _, v := range []float64{0, 0, math.NaN(), 3} {
			if !yield([]float64{v, 7}) {
				return
			}
		}
	}
	if a := accelerations(left, 2); math.Abs(a[0]+6/(6*math.Pow(6, 1.5))) > 1e-15 || a[1] != 0 {
		t.Errorf("accelerations %v", a)
	}
	c := &clusters{columns: 1, sums: []float64{2, 3, 5}}
	var got []float64
	for v := range jackknife(c, c.total(), 1, func(f, totals []float64) { f[0] = totals[0] }) {
		got = append(got, v[0])
	}
	if !slices.Equal(got, []float64{8, 7, 5}) {
		t.Errorf("without each of 2, 3, 5 the rest is %v", got)
	}
	// Student's quantile of 2 degrees of freedom is 4.3027.
	if z := widened(3); math.Abs(z-4.302653*math.Sqrt(1.5)) > 1e-5 {
		t.Errorf("three people widen to %v", z)
	}
}

func TestOptionsOfTheBootstrap(t *testing.T) {
	for n, ok := range map[int]bool{-1: false, 0: true, 1: true, 100_000: true, 100_001: false} {
		if err := CheckResamples(n); (err == nil) != ok {
			t.Errorf("%d resamples: %v", n, err)
		}
	}
	if o := (Options{}).withDefaults(); o.Resamples != 2000 || o.MinPeople != 5 {
		t.Errorf("defaults %+v", o)
	}
	if o := (Options{Resamples: 1, MinPeople: 1}).withDefaults(); o.Resamples != 1 || o.MinPeople != 1 {
		t.Errorf("kept %+v", o)
	}
}

// A result without a name of what it is stays readable.
func TestNamesOutOfRange(t *testing.T) {
	for got, want := range map[string]string{
		Class(3).String(): "Class(3)", Anchor(3).String(): "Anchor(3)", Aggregate(3).String(): "Aggregate(3)", Status(3).String(): "Status(3)",
		Source(2).String(): "Source(2)", Outcome(6).String(): "Outcome(6)", AuditReason(8).String(): "AuditReason(8)",
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	for i, name := range []string{"TP", "FP", "FN", "ignored", "absorbed", "cut"} {
		if got := Outcome(i).String(); got != name {
			t.Errorf("outcome %d is %s, want %s", i, got, name)
		}
	}
	for _, tt := range []struct {
		outcome     Outcome
		paired, cut bool
	}{{TruePositive, true, false}, {FalsePositive, false, false}, {FalseNegative, false, false}, {Ignored, false, false}, {Absorbed, true, true}, {Cut, false, true}} {
		m := Match{Outcome: tt.outcome}
		if m.Paired() != tt.paired || tt.outcome.cut() != tt.cut {
			t.Errorf("%v: paired %v, cut %v", tt.outcome, m.Paired(), tt.outcome.cut())
		}
	}
	if r := Ratio(0.1234); r.Percent() != "12.3" || null().Percent() != "–" {
		t.Errorf("0.1234 is %s %%", r.Percent())
	}
	var c Class
	if err := c.UnmarshalText([]byte("S3")); err == nil || !strings.Contains(err.Error(), `unknown class "S3": want one of S1, S2, both`) {
		t.Errorf("an unknown class: %v", err)
	}
}
