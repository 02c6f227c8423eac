package eval

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/eval/tabular"
)

// foundRun is a run on one recording of 20 sounds of each of several people, of which
// a method finds the first so many.
func foundRun(t testing.TB, name string, rules Rules, found []int, edit func(i int, c *Case)) Run {
	t.Helper()
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	acc := NewAccumulator(rules, Options{Seed: 1})
	for i, n := range found {
		reference := beats(500*ms, 10)
		c := Case{Recording: fmt.Sprintf("r%d", i), Person: fmt.Sprintf("p%d", i), Reference: fromIntervals(reference), Length: 1e10}
		for k := range n {
			c.Predicted = append(c.Predicted, reference[2*k])
		}
		if edit != nil {
			edit(i, &c)
		}
		r := s.Score(&c)
		acc.Add(&r)
	}
	return Run{Name: name, Results: acc, DataSet: "village", Version: "1", Provenance: Provenance{Method: name, Origin: NotFitted}}
}

// cellOf turns a run into a cell of a study.
func cellOf(r Run, column, condition string) StudyRun {
	cell := column + "/" + r.Name + prefixed("/", condition)
	return StudyRun{Run: r, Cell: cell, Column: column, Condition: condition, Digest: "digest of " + cell}
}

func newStudy(t testing.TB, h StudyHeader, runs []StudyRun, faults []StudyFault, o Options) *Study {
	t.Helper()
	s, err := NewStudy(h, runs, faults, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func jsonOf(t testing.TB, v any) []byte {
	t.Helper()
	content, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// smallStudy is that of statistics.py.
func smallStudy(t *testing.T, resamples int, o Options) (*Study, []StudyRun) {
	t.Helper()
	h := StudyHeader{Methods: []string{"alpha", "beta", "gamma"}, Columns: []string{"six"}, Conditions: []string{"", "noise=pink,snr=0"}}
	var runs []StudyRun
	for method, conditions := range readCheckValues(t).Study.Found {
		for condition, found := range conditions {
			r := foundRun(t, method, DefaultRules(), found, nil)
			r.Results.options.Resamples = resamples
			runs = append(runs, cellOf(r, "six", condition))
		}
	}
	slices.SortFunc(runs, func(a, b StudyRun) int { return strings.Compare(a.Cell, b.Cell) })
	return newStudy(t, h, runs, nil, o), runs
}

// The share of samples in which a method leads comes from all 6⁶ samples of people. By
// hand, of 120 sounds alpha and gamma find 87 and beta finds 88.
func TestStudyRanks(t *testing.T) {
	s, _ := smallStudy(t, 10_000, Options{})
	want := readCheckValues(t).Study.Leads
	if len(s.Ranks) != 3 {
		t.Fatalf("%d ranks, want those of the audio as it is alone, where there are several methods", len(s.Ranks))
	}
	for i, rank := range []int{2, 1, 2} {
		r := s.Ranks[i]
		if r.Rank != rank || r.Condition != "" || r.F1 != s.Cell("six", r.Method, "").Score().F1 {
			t.Errorf("%+v, want rank %d", r, rank)
		}
		if !near(float64(r.Lead), want[r.Method], 0.015) {
			t.Errorf("%s leads in %v of the samples, want %v", r.Method, r.Lead, want[r.Method])
		}
	}
	if f1 := s.Ranks[0].F1; f1 != F1(87, 0, 33) || s.Resamples != 10_000 {
		t.Errorf("F1 of alpha %v", f1)
	}
}

// One person gives no samples, and so no leads.
func TestLeadNeedsPeople(t *testing.T) {
	h := StudyHeader{Methods: []string{"a", "b"}, Columns: []string{"one"}, Conditions: []string{""}}
	runs := []StudyRun{cellOf(foundRun(t, "a", DefaultRules(), []int{10}, nil), "one", ""), cellOf(foundRun(t, "b", DefaultRules(), []int{20}, nil), "one", "")}
	s := newStudy(t, h, runs, nil, Options{})
	if len(s.Ranks) != 2 || s.Ranks[0].Rank != 2 || s.Ranks[1].Rank != 1 || !s.Ranks[0].Lead.Null() || !s.Ranks[1].Lead.Null() {
		t.Errorf("%+v", s.Ranks)
	}
	if len(s.Warnings) == 0 || s.Warnings[0] != "one has 1 person: too few to tell methods apart" {
		t.Errorf("warnings %q", s.Warnings)
	}
}

func TestShare(t *testing.T) {
	shares := make([]float64, 4)
	nan := float64(null())
	for _, values := range [][]float64{{1, 2, 2, nan}, {3, 2, 1, nan}, {1, 1, 1, 1}} {
		if !share(shares, values) {
			t.Errorf("no share of %v", values)
		}
	}
	if share(shares, []float64{nan, nan, nan, nan}) {
		t.Error("a share of nothing")
	}
	if want := []float64{1.25, 0.75, 0.75, 0.25}; !slices.Equal(shares, want) {
		t.Errorf("shares %v, want %v", shares, want)
	}
}

// A loss is the difference from the audio as it is that compare gives, and that NumPy
// computes; the people's differences all have one sign or are zero.
func TestStudyLosses(t *testing.T) {
	s, runs := smallStudy(t, 2000, Options{Seed: 1, Resamples: 3000})
	want := readCheckValues(t).Study.Loss
	if len(s.Losses) != 1 {
		t.Fatalf("%d losses", len(s.Losses))
	}
	l := s.Losses[0]
	if !near(float64(l.Pooled.Difference), want.Pooled, 1e-15) || !near(float64(l.PerPerson.Difference), want.PerPerson, 1e-15) || !near(float64(l.Test.P), want.P, 1e-12) {
		t.Errorf("loss %v pooled, %v of the mean, p %v; want %+v", l.Pooled.Difference, l.PerPerson.Difference, l.Test.P, want)
	}
	clean, noisy := runs[0].Run, runs[1].Run
	clean.Name, noisy.Name = "clean", "noisy"
	c, err := CompareAgainst([]Run{clean, noisy}, "clean", Options{Seed: 1, Resamples: 3000})
	if err != nil {
		t.Fatal(err)
	}
	p := &c.Pairs[0]
	for i := range p.Differences {
		p.Differences[i].Intervals = nil
	}
	if d := cmp.Diff(StudyLoss{
		Column: "six", Method: "alpha", Condition: "noise=pink,snr=0",
		Pooled: *p.difference(Both, Pooled), PerPerson: *p.difference(Both, PerPerson), Test: p.Test, AdjustedP: p.AdjustedP, Shown: p.Better != "", Effective: l.Effective,
	}, l); d != "" {
		t.Errorf("not that of compare (− compare, + study):\n%s", d)
	}
	// Errors that differ: 4, 0, 3, 8, 1 and 2 of 18, squares 94.
	if !near(l.Effective, 18.0*18/94, 1e-12) {
		t.Errorf("effective number of people %v", l.Effective)
	}
}

// Pairs of methods are those of compare, and their tests are adjusted over a column.
func TestStudyPairs(t *testing.T) {
	s, runs := smallStudy(t, 2000, Options{Seed: 1, Resamples: 3000})
	var clean []Run
	for _, r := range runs {
		if r.Condition == "" {
			clean = append(clean, r.Run)
		}
	}
	c, err := Compare(clean, Options{Seed: 1, Resamples: 3000})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Pairs) != 3 {
		t.Fatalf("%d pairs", len(s.Pairs))
	}
	for _, want := range c.Pairs {
		i := slices.IndexFunc(s.Pairs, func(p StudyPair) bool { return p.First == want.First && p.Second == want.Second })
		want.Differences = slices.DeleteFunc(want.Differences, func(d Difference) bool { return d.Class != Both })
		for i := range want.Differences {
			want.Differences[i].Intervals = nil
		}
		if got, wanted := jsonOf(t, s.Pairs[i].Pair), jsonOf(t, want); s.Pairs[i].Column != "six" || !bytes.Equal(got, wanted) {
			t.Errorf("pair %s, want %s", got, wanted)
		}
	}
}

// Errors by hand, of 20 sounds each: 0, 8 with S1 and S2 changing places and 12 missed
// by one person, whose other recording has 10, and 3 of another.
func TestStudyErrors(t *testing.T) {
	run := foundRun(t, "a", DefaultRules(), []int{20, 8, 10, 17}, func(i int, c *Case) {
		c.Person = []string{"x", "y", "y", "z"}[i]
		if i == 1 {
			for k := range c.Predicted {
				c.Predicted[k].State = c.Predicted[k].State.Exchanged()
			}
		}
	})
	s := newStudy(t, StudyHeader{Methods: []string{"a"}, Columns: []string{"c"}, Conditions: []string{""}}, []StudyRun{cellOf(run, "c", "")}, nil, Options{})
	// 20 misses and 8 false ones in r1: 28 of 41 errors; 38 of the person y.
	want := StudyErrors{
		Errors: 41, NoErrors: 1, Exchanged: 1, ExchangedErrors: 28.0 / 41, Person: "y", PersonErrors: 38.0 / 41,
		F1WithoutPerson: F1(37, 0, 3), EffectivePeople: 41.0 * 41 / (38*38 + 9),
	}
	if d := cmp.Diff(want, s.Cells[0].Errors); d != "" {
		t.Errorf("(− want, + got):\n%s", d)
	}
	perfect := cellOf(foundRun(t, "a", DefaultRules(), []int{20, 20}, nil), "c", "")
	e := newStudy(t, StudyHeader{Methods: []string{"a"}, Columns: []string{"c"}, Conditions: []string{""}}, []StudyRun{perfect}, nil, Options{}).Cells[0].Errors
	if e.NoErrors != 2 || e.Person != "" || !e.PersonErrors.Null() || !e.F1WithoutPerson.Null() || !e.ExchangedErrors.Null() {
		t.Errorf("without errors: %+v", e)
	}
}

// Tests of a method are adjusted over its conditions in a column, and of nothing else.
func TestLossesAreAdjustedOverConditions(t *testing.T) {
	h := StudyHeader{Methods: []string{"a", "b"}, Columns: []string{"x"}, Conditions: []string{"clip=0.1", "", "bits=8"}}
	clean, worse, worst := []int{20, 20, 20, 20, 20, 20}, []int{19, 18, 17, 16, 15, 20}, []int{14, 13, 12, 11, 10, 9}
	var runs []StudyRun
	for _, name := range h.Methods {
		for condition, found := range map[string][]int{"": clean, "clip=0.1": worse, "bits=8": worst} {
			if name == "b" && condition == "" {
				continue
			}
			runs = append(runs, cellOf(foundRun(t, name, DefaultRules(), found, nil), "x", condition))
		}
	}
	s := newStudy(t, h, runs, nil, Options{Seed: 1, Resamples: 200})
	large := newStudy(t, StudyHeader{Methods: []string{"a"}, Columns: []string{"x"}, Conditions: []string{"", "bits=8"}}, []StudyRun{
		cellOf(foundRun(t, "a", DefaultRules(), slices.Repeat(clean, 2), nil), "x", ""),
		cellOf(foundRun(t, "a", DefaultRules(), slices.Repeat(worst, 2), nil), "x", "bits=8"),
	}, nil, Options{Seed: 1, Resamples: 200})
	if !large.Losses[0].Shown {
		t.Errorf("of twelve people the change is not shown: %+v", large.Losses[0])
	}
	if len(s.Losses) != 2 || s.Losses[0].Condition != "clip=0.1" || s.Losses[1].Condition != "bits=8" {
		t.Fatalf("losses %+v", s.Losses)
	}
	// All 5 and all 6 differences have one sign: p = 2/2⁵ and 2/2⁶; the smaller is doubled.
	for i, want := range []struct{ p, adjusted Ratio }{{0.0625, 0.0625}, {0.03125, 0.0625}} {
		if l := s.Losses[i]; l.Test.P != want.p || l.AdjustedP != want.adjusted {
			t.Errorf("p %v, adjusted %v, want %+v", l.Test.P, l.AdjustedP, want)
		}
	}
	// An interval of six people without 0 does not show a change alone: p is too large.
	if l := s.Losses[1]; !(l.PerPerson.High < 0) || l.Shown {
		t.Errorf("%+v", l)
	}
	if !slices.Contains(s.Warnings, "no losses, since the cell of the audio as it is is missing: x, b") {
		t.Errorf("warnings %q", s.Warnings)
	}
}

// A recording is listed where no method reaches an F1 of 0.5 on the audio as it is;
// with F1 = 2n/(n+20) for n of 20 sounds that is up to 6. Exactly 0.5 is not below.
func TestStudyFailingRecordings(t *testing.T) {
	h := StudyHeader{Methods: []string{"a", "b"}, Columns: []string{"x"}, Conditions: []string{"", "clip=0.1"}}
	unnamed := func(i int, c *Case) {
		if i == 3 {
			c.Person, c.Failed = "", true
		}
		if i == 5 {
			c.Reference = fromIntervals(nil)
		}
	}
	exact := func(i int, c *Case) {
		unnamed(i, c)
		if i == 4 { // 10 of 20 right, and 10 where S1 and S2 change places
			for k := 10; k < 20; k++ {
				iv := c.Reference.Intervals[2*k]
				iv.State = iv.State.Exchanged()
				c.Predicted = append(c.Predicted, iv)
			}
		}
	}
	runs := []StudyRun{
		cellOf(foundRun(t, "a", DefaultRules(), []int{6, 7, 6, 20, 10, 0}, exact), "x", ""),
		cellOf(foundRun(t, "b", DefaultRules(), []int{5, 6, 6, 20, 0, 0}, unnamed), "x", ""),
		cellOf(foundRun(t, "b", DefaultRules(), []int{20, 0, 20, 20, 0, 0}, unnamed), "x", "clip=0.1"),
	}
	s := newStudy(t, h, runs, nil, Options{Resamples: 100})
	if s.FailBelow != 0.5 {
		t.Errorf("threshold %v", s.FailBelow)
	}
	want := []StudyRecording{
		{"x", "r0", "p0", []MethodScore{{"a", F1(6, 0, 14)}, {"b", F1(5, 0, 15)}}},
		{"x", "r2", "p2", []MethodScore{{"a", F1(6, 0, 14)}, {"b", F1(6, 0, 14)}}},
		{"x", "r3", "not stated", []MethodScore{{"a", 0}, {"b", 0}}},
	}
	if d := cmp.Diff(want, s.Failing); d != "" {
		t.Errorf("(− want, + got):\n%s", d)
	}
	if best := s.Failing[0].Best(); best.Method != "a" {
		t.Errorf("best %+v", best)
	}
}

// A cell holds what the README and the model cards quote, as the summary of the run
// has it.
func TestStudyCell(t *testing.T) {
	h := StudyHeader{Methods: []string{"hmm"}, Columns: []string{"village"}, Conditions: []string{"", "rate=500"}}
	run := runOf(t, "hmm", DefaultRules(), 0.1, 1, nil)
	run.Cost = 3
	s := newStudy(t, h, []StudyRun{cellOf(run, "village", ""), cellOf(run, "village", "rate=500")}, nil, Options{})
	c, summary := s.Cell("village", "hmm", ""), run.Results.Summary()
	if c == nil || s.Cell("village", "hmm", "rate=250") != nil {
		t.Fatal("a cell is not found, or one that is not there")
	}
	for _, class := range []Class{Both, S1, S2} {
		for aggregate := range Aggregate(aggregates) {
			want := find(t, summary, class, aggregate, "")
			want.Intervals, want.Wilson, want.MeanOver = nil, nil, nil
			if !slices.ContainsFunc(c.Headline, func(r Score) bool { return cmp.Equal(r, want) }) {
				t.Errorf("no row %+v", want)
			}
		}
		for anchor := range Anchor(anchors) {
			at := slices.IndexFunc(c.Sweep, func(s ToleranceSweep) bool { return s.Anchor == anchor && s.Class == class })
			for i, want := range summary.Scores.Sweep(class, anchor) {
				got := c.Sweep[at]
				same := func(got, want Ratio) bool {
					return got.Null() && want.Null() || near(float64(got), float64(want), 5e-7)
				}
				if !same(got.Recall[i], want.Recall) || !same(got.Precision[i], want.Precision) || !same(got.F1[i], want.F1) ||
					!same(got.Low[i], want.Low) || !same(got.High[i], want.High) || got.Low[i].Null() != (anchor != Centre) {
					t.Errorf("%v at the %v within %g ms: %+v", class, anchor, want.ToleranceMS, got)
				}
			}
		}
	}
	if sweep := s.Cell("village", "hmm", "rate=500").Sweep; len(sweep) != 1 || sweep[0].Class != Both || sweep[0].Anchor != Centre {
		t.Errorf("sweep under a condition: %+v", sweep)
	}
	if len(c.Strata) != len(summary.Scores.Strata()) || len(s.Cell("village", "hmm", "rate=500").Strata) != 0 {
		t.Errorf("%d strata", len(c.Strata))
	}
	if c.Score().Class != Both || c.Score().Aggregate != Pooled || c.Cost != 3 || c.Digest != "digest of village/hmm" || *c.Cycles.Whole != *summary.Cycles.Whole {
		t.Errorf("%+v", c)
	}
}

// The order in which cells are given does not matter, and what segmenting cost is not
// written.
func TestStudySameBytes(t *testing.T) {
	h := StudyHeader{Title: "T", Methods: []string{"b", "a", "c"}, Columns: []string{"y", "x"}, Conditions: []string{"", "bits=8"}}
	var runs []StudyRun
	for i, column := range h.Columns {
		for k, condition := range h.Conditions {
			for m, method := range h.Methods[:2] {
				r := foundRun(t, method, DefaultRules(), []int{20 - i, 18 - k, 15 - m, 20, 11}, nil)
				runs = append(runs, cellOf(r, column, condition))
			}
		}
	}
	faults := []StudyFault{{"y/c", "c", "y", "", "no model"}, {"x/c", "c", "x", "bits=8", "killed"}}
	first := jsonOf(t, newStudy(t, h, runs, faults, Options{Resamples: 100, Seed: 1}))
	slices.Reverse(runs)
	slices.Reverse(faults)
	for i := range runs {
		runs[i].Cost = float64(i)
	}
	if d := cmp.Diff(string(first), string(jsonOf(t, newStudy(t, h, runs, faults, Options{Resamples: 100, Seed: 1})))); d != "" {
		t.Errorf("another order gives:\n%s", d)
	}
	if bytes.Contains(first, []byte("processor")) || bytes.Contains(first, []byte("cost")) {
		t.Error("the cost is written")
	}
	var read Study
	if err := json.Unmarshal(first, &read); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(first), string(jsonOf(t, &read))); d != "" {
		t.Errorf("read and written again:\n%s", d)
	}
	var ids []string
	for _, c := range read.Cells {
		ids = append(ids, c.ID)
	}
	if got, want := strings.Join(ids, " "), "y/b y/a y/b/bits=8 y/a/bits=8 x/b x/a x/b/bits=8 x/a/bits=8"; got != want {
		t.Errorf("cells %s, want %s", got, want)
	}
}

func TestNoiseSeries(t *testing.T) {
	h := StudyHeader{Conditions: []string{"", "noise=pink,snr=20", "clip=0.01", "noise=pink,snr=-5", "noise=white,snr=3", "noise=pink,snr=2.5",
		"rate=500,noise=pink,snr=0", "rate=500,noise=pink,snr=10", "noise=pink,snr=0,noise=white,snr=0"}}
	series, others := h.NoiseSeries()
	want := []NoiseSeries{
		{"noise=pink", []NoiseLevel{{"noise=pink,snr=-5", -5}, {"noise=pink,snr=2.5", 2.5}, {"noise=pink,snr=20", 20}}},
		{"rate=500,noise=pink", []NoiseLevel{{"rate=500,noise=pink,snr=0", 0}, {"rate=500,noise=pink,snr=10", 10}}},
	}
	if d := cmp.Diff(want, series); d != "" {
		t.Errorf("series (− want, + got):\n%s", d)
	}
	if want := []string{"clip=0.01", "noise=white,snr=3", "noise=pink,snr=0,noise=white,snr=0"}; !slices.Equal(others, want) {
		t.Errorf("others %q, want %q", others, want)
	}
}

// The text for a screen has no long tables; those for programs give each cell, class,
// average and tolerance a row.
func TestStudyAsTextAndForPrograms(t *testing.T) {
	h := StudyHeader{Title: "Small", Methods: []string{"a", "b"}, Columns: []string{"x"}, Conditions: []string{"", "noise=pink,snr=0"}}
	none := make([]int, 30)
	runs := []StudyRun{
		cellOf(foundRun(t, "a", DefaultRules(), none, nil), "x", ""), cellOf(foundRun(t, "b", DefaultRules(), none, nil), "x", ""),
		cellOf(foundRun(t, "a", DefaultRules(), none, nil), "x", "noise=pink,snr=0"),
	}
	s := newStudy(t, h, runs, []StudyFault{{"x/b/noise=pink,snr=0", "b", "x", "noise=pink,snr=0", "no memory"}}, Options{Resamples: 100})
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{"Small\n2 methods, 1 column, 2 conditions: 3 cells with scores\n", "no memory", "Every method fails on 30 recordings (table failing).\n", "warning: 1 cell without scores, of 4"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q:\n%s", want, text)
		}
	}
	if strings.Contains(text, "Adj. p") || strings.Contains(text, "r19") {
		t.Errorf("the text has long tables:\n%s", text)
	}
	rows := csvOf(t, s.WriteTable)
	if n := len(rows) - 1; n != 3*9 {
		t.Errorf("%d rows of scores", n)
	}
	at := slices.Index(rows[0], "digest")
	if rows[1][at] != "digest of x/a" || rows[1][slices.Index(rows[0], "condition")] != "as it is" {
		t.Errorf("row %q", rows[1])
	}
	if n := len(s.ToleranceTable().Rows); n != 2*3*3*8+8 {
		t.Errorf("%d rows of tolerances", n)
	}
	b.Reset()
	if err := s.WriteTable(&b, tabular.Markdown); err != nil || strings.Count(b.String(), "\n| :--") != len(s.Tables()) {
		t.Errorf("%v: %s", err, b.String())
	}
}

func TestStudyRefuses(t *testing.T) {
	h := StudyHeader{Methods: []string{"a", "b"}, Columns: []string{"village"}, Conditions: []string{"", "clip=0.1"}}
	a := cellOf(foundRun(t, "a", DefaultRules(), []int{20, 10}, nil), "village", "")
	other := cellOf(foundRun(t, "b", DefaultRules(), []int{20, 10}, func(i int, c *Case) {
		if i == 1 {
			c.Recording = "other"
		}
	}), "village", "")
	for _, tt := range []struct {
		runs   []StudyRun
		faults []StudyFault
		want   string
	}{
		{[]StudyRun{a, a}, nil, `the cell of method "a", column "village" and condition "" is given twice`},
		{[]StudyRun{a}, []StudyFault{{Cell: "village/a", Method: "a", Column: "village"}}, `is given twice`},
		{[]StudyRun{cellOf(a.Run, "village", "clip=0.2")}, nil, `no cell of method "a", column "village" and condition "clip=0.2"`},
		{[]StudyRun{a, other}, nil, "runs village/a and village/b are not on the same recordings, number 2 is r1 against other"},
	} {
		if _, err := NewStudy(h, tt.runs, tt.faults, Options{}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
	if _, err := NewStudy(h, []StudyRun{a}, nil, Options{Resamples: -1}); err == nil {
		t.Error("a negative number of resamples is taken")
	}
}
