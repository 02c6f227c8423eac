package eval

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// threePeople accumulates a data set small enough to count by hand: anna with
// two recordings of 3 cycles, one found and one failed, ben with one found but
// for a cycle, and eve with points. One more has no reference.
func threePeople(t testing.TB, o Options) *Accumulator {
	t.Helper()
	rules := DefaultRules()
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	acc := NewAccumulator(rules, o)
	three := beats(500*ms, 3)
	label := func(site, height string) []pcg.Label {
		return []pcg.Label{{Name: "site", Value: site}, {Name: "height", Value: height}}
	}
	points := pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{{At: time.Second, Sound: pcg.S1}, {At: 1300 * ms, Sound: pcg.S2}}}
	for _, c := range []Case{
		{Recording: "anna-1", Person: "anna", Strata: label("apex", "160"), Reference: fromIntervals(three), Predicted: three, Length: 4 * time.Second},
		{Recording: "anna-2", Person: "anna", Strata: label("base", "160"), Reference: fromIntervals(three), Failed: true, Reason: "too short"},
		{Recording: "ben-1", Person: "ben", Strata: label("apex", "170"), Reference: fromIntervals(three), Predicted: beats(500*ms, 2), Length: 4 * time.Second},
		{Recording: "eve-1", Person: "eve", Strata: label("apex", ""), Reference: points, Predicted: sounds(pcg.S1, 1000), Length: 3 * time.Second},
		{Recording: "eve-2", Person: "eve", Strata: label("base", "")},
	} {
		r := s.Score(&c)
		acc.Add(&r)
	}
	return acc
}

// pooledF1 returns the F1 of a pooled row over all recordings.
func pooledF1(s Scores, class Class, anchor Anchor, toleranceMS float64) Ratio {
	for _, r := range s.Sweep(class, anchor) {
		if r.ToleranceMS == toleranceMS {
			return r.F1
		}
	}
	return null()
}

// find returns the one headline row of a stratum.
func find(t testing.TB, s *Summary, class Class, aggregate Aggregate, stratum string) Score {
	t.Helper()
	for _, r := range s.Scores.Headline(&s.Rules, stratum) {
		if r.Class == class && r.Aggregate == aggregate {
			return r
		}
	}
	t.Fatalf("no row %v, %v, %q", class, aggregate, stratum)
	return Score{}
}

func TestSummaryByHand(t *testing.T) {
	s := threePeople(t, Options{}).Summary()
	if c := s.Counts; c.In != 5 || c.Scored != 3 || c.Failed != 1 || c.Excluded != 1 || c.People != 3 {
		t.Errorf("counts %+v", c)
	}
	// S1: anna 3 of 3 and 0 of 3, ben 2 of 3, eve 1 of 1. S2 the same but eve 0 of 1.
	tests := []struct {
		class      Class
		aggregate  Aggregate
		stratum    string
		tp, fp, fn int
		recall     float64
	}{
		{S1, Pooled, "", 6, 0, 4, 6. / 10},
		{S2, Pooled, "", 5, 0, 5, 5. / 10},
		{Both, Pooled, "", 11, 0, 9, 11. / 20},
		{S1, PerRecording, "", 6, 0, 4, (1 + 0 + 2./3 + 1) / 4},
		{S2, PerRecording, "", 5, 0, 5, (1 + 0 + 2./3 + 0) / 4},
		{Both, PerRecording, "", 11, 0, 9, (1 + 0 + 2./3 + 1./2) / 4},
		{S1, PerPerson, "", 6, 0, 4, (1./2 + 2./3 + 1) / 3},
		{Both, PerPerson, "", 11, 0, 9, (1./2 + 2./3 + 1./2) / 3},
		{S1, Pooled, "site=apex", 6, 0, 1, math.NaN()}, // three people: counts only
		{S2, Pooled, "site=base", 0, 0, 3, math.NaN()},
		{Both, Pooled, "reference=points", 1, 0, 1, math.NaN()},
		{Both, Pooled, "reference=intervals", 10, 0, 8, math.NaN()},
	}
	for _, tt := range tests {
		r := find(t, s, tt.class, tt.aggregate, tt.stratum)
		if r.TP != tt.tp || r.FP != tt.fp || r.FN != tt.fn {
			t.Errorf("%v %v %q: TP, FP, FN %d, %d, %d; want %d, %d, %d", tt.class, tt.aggregate, tt.stratum, r.TP, r.FP, r.FN, tt.tp, tt.fp, tt.fn)
		}
		if r.Recall.Null() != math.IsNaN(tt.recall) || math.Abs(float64(r.Recall)-tt.recall) > 1e-15 {
			t.Errorf("%v %v %q: recall %v, want %v", tt.class, tt.aggregate, tt.stratum, r.Recall, tt.recall)
		}
	}
	// The failed recording has no precision, and so is not in its mean.
	if r := find(t, s, S1, PerRecording, ""); r.Precision != 1 {
		t.Errorf("mean precision over recordings is %v, want 1", r.Precision)
	}
	if r := find(t, threePeople(t, Options{MinPeople: 1}).Summary(), S1, Pooled, "site=apex"); r.Recall != Ratio(6./7) {
		t.Errorf("with a minimum of one person the recall at the apex is %v, want 6/7", r.Recall)
	}
}

func TestSummaryWarns(t *testing.T) {
	s := threePeople(t, Options{Resamples: 100, Strata: []string{"site", "age"}}).Summary()
	all := strings.Join(s.Warnings, "\n")
	for _, want := range []string{
		"1 recording without output", "1 recording without a usable reference", "the errors lie with few of 3 people, as unevenly as if",
		"fewer than 5 people, given as counts only: site=apex (3), site=base (1)", `no recording has a property "age"`, "100 resamples are too few",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("no warning %q in\n%s", want, all)
		}
	}
	for _, r := range s.Scores {
		if r.Stratum != "" && !strings.HasPrefix(r.Stratum, "site=") {
			t.Errorf("stratum %q was not asked for", r.Stratum)
		}
	}
}

func TestRateBands(t *testing.T) {
	for _, tt := range []struct {
		rate Ratio
		want string
	}{
		{59.99, "below 60"}, {60, "60 to 80"}, {79.99, "60 to 80"}, {80, "80 to 100"}, {139, "120 to 140"},
		{140, "140 and above"}, {null(), NotStated},
	} {
		if got := HeartRateBand(tt.rate); got != tt.want {
			t.Errorf("%v a minute is in band %q, want %q", tt.rate, got, tt.want)
		}
	}
}

func TestUnnamedPeopleAreKeptApart(t *testing.T) {
	rules := DefaultRules()
	acc := NewAccumulator(rules, Options{})
	for _, id := range []string{"a", "b"} {
		r := mustScore(t, rules, Case{Recording: id, Reference: fromIntervals(beats(0, 3)), Predicted: beats(0, 3)})
		acc.Add(&r)
	}
	if s := acc.Summary(); s.Counts.People != 2 || s.Counts.Unnamed != 2 || !strings.Contains(strings.Join(s.Warnings, " "), "is not stated") {
		t.Errorf("counts %+v, warnings %q", s.Counts, s.Warnings)
	}
}

// A recording without output has a recall and no precision, so that their means
// are over different numbers of recordings. Each mean says over how many.
func TestMeansSayOverHowMany(t *testing.T) {
	s := threePeople(t, Options{Resamples: 50}).Summary()
	for _, tt := range []struct {
		aggregate Aggregate
		want      *RatioCounts
	}{{Pooled, nil}, {PerRecording, &RatioCounts{Recall: 4, Precision: 3, F1: 4}}, {PerPerson, &RatioCounts{Recall: 3, Precision: 3, F1: 3}}} {
		if diff := cmp.Diff(tt.want, find(t, s, Both, tt.aggregate, "").MeanOver); diff != "" {
			t.Errorf("%v: (-want +got):\n%s", tt.aggregate, diff)
		}
	}
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(b.String()), " ")
	if want := "Mean, recordings of both: recall of 4, precision of 3, F1 of 4."; !strings.Contains(text, want) {
		t.Errorf("no %q in\n%s", want, b.String())
	}
}

func TestPointsHaveNoScoreAtTheOnset(t *testing.T) {
	rules := DefaultRules()
	rules.Anchor = Onset
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	acc := NewAccumulator(rules, Options{})
	points := pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{{At: time.Second, Sound: pcg.S1}}}
	r := s.Score(&Case{Recording: "a", Person: "p", Reference: points, Predicted: sounds(pcg.S1, 1000)})
	acc.Add(&r)
	sum := acc.Summary()
	if h := sum.HeadlineRow; h.TP+h.FP+h.FN != 0 || h.Recordings != 0 || !h.F1.Null() {
		t.Errorf("headline at the onset %+v, want nothing", h)
	}
	if f := pooledF1(sum.Scores, S1, Centre, 60); f != 1 {
		t.Errorf("at the centre F1 is %v, want 1", f)
	}
	if !strings.Contains(strings.Join(sum.Warnings, " "), "centre only") {
		t.Errorf("warnings %q", sum.Warnings)
	}
}

func TestEmptySummary(t *testing.T) {
	s := NewAccumulator(DefaultRules(), Options{}).Summary()
	if _, err := json.Marshal(s); err != nil {
		t.Fatal(err)
	}
	if err := s.WriteText(new(bytes.Buffer)); err != nil {
		t.Fatal(err)
	}
	if len(s.Warnings) == 0 {
		t.Error("no warning that nothing is scored")
	}
}

// summary.json as DESIGN has it.
func TestSummaryJSON(t *testing.T) {
	content, err := json.Marshal(threePeople(t, Options{}).Summary())
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Rules  map[string]any
		Counts map[string]any
		Scores []map[string]any
	}
	if err := json.Unmarshal(content, &got); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"class", "anchor", "tolerance_ms", "aggregate", "stratum", "tp", "fp", "fn", "precision", "recall", "f1", "low", "high"} {
		if _, ok := got.Scores[0][key]; !ok {
			t.Errorf("a row of scores has no %q: %v", key, got.Scores[0])
		}
	}
	seen := map[string]int{}
	for _, r := range got.Scores {
		seen[fmt.Sprintf("%v %v %v %v %v", r["class"], r["anchor"], r["tolerance_ms"], r["aggregate"], r["stratum"])]++
		if r["stratum"] == "site=base" && r["f1"] != nil {
			t.Errorf("a stratum below the minimum has F1 %v, want null", r["f1"])
		}
	}
	for key, n := range seen {
		if n > 1 {
			t.Errorf("%d rows for %s", n, key)
		}
	}
	rules := DefaultRules()
	for class := range Class(classes + 1) {
		for anchor := range Anchor(anchors) {
			for _, tolerance := range rules.Tolerances {
				if key := fmt.Sprintf("%v %v %v %v ", class, anchor, milliseconds(tolerance), Pooled); seen[key] != 1 {
					t.Errorf("no pooled row for %s", key)
				}
			}
		}
	}
	var back Summary
	if err := json.Unmarshal(content, &back); err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(&back)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(content, again) {
		t.Error("a summary does not survive JSON")
	}
}

func TestTextFitsAScreen(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	acc := NewAccumulator(DefaultRules(), Options{})
	s, err := NewScorer(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	for i := range 60 {
		c := randomCase(random)
		c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i/2)
		c.Strata = []pcg.Label{{Name: "site", Value: []string{"AV", "PV", "TV", "MV"}[i%4]}}
		r := s.Score(&c)
		acc.Add(&r)
	}
	sum := acc.Summary()
	var b, again bytes.Buffer
	if err := sum.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(b.String()) {
		if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > 100 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	for _, want := range []string{"Recall (Se)", "Precision (PPV)", "F1", "\nsite        AV ", "warning:", "binomial intervals", "one-to-one"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in the text", want)
		}
	}
	if testing.Verbose() {
		t.Log("\n" + b.String())
	}
	if err := acc.Summary().WriteText(&again); err != nil {
		t.Fatal(err)
	}
	if b.String() != again.String() {
		t.Error("a second summary differs")
	}
}

// A hundred thousand recordings are to fit in about 100 MB.
func BenchmarkAccumulator(b *testing.B) {
	c := randomCase(rand.New(rand.NewPCG(13, 14)))
	c.Strata = make([]pcg.Label, 10)
	r := mustScore(b, DefaultRules(), c)
	b.ReportAllocs()
	for b.Loop() {
		acc := NewAccumulator(DefaultRules(), Options{})
		for i := range 10_000 {
			r.Recording, r.Person = fmt.Sprint("recording", i), fmt.Sprint("person", i/3)
			acc.Add(&r)
		}
	}
}

func TestAToleranceOfHalfASystoleIsWarnedOf(t *testing.T) {
	for _, tt := range []struct {
		tolerance time.Duration
		want      bool
	}{{150 * ms, false}, {160 * ms, true}} { // beats have 300 ms from S1 to S2
		rules := DefaultRules()
		rules.SetHeadline(tt.tolerance)
		acc := NewAccumulator(rules, Options{})
		r := mustScore(t, rules, Case{Recording: "a", Person: "p", Reference: fromIntervals(beats(500*ms, 5)), Predicted: beats(500*ms, 5)})
		acc.Add(&r)
		if got := strings.Contains(strings.Join(acc.Summary().Warnings, " "), "half the time from S1 to S2"); got != tt.want {
			t.Errorf("at %v: warned %v, want %v", tt.tolerance, got, tt.want)
		}
	}
}

func TestSetHeadlineKeepsTheSweepInOrder(t *testing.T) {
	rules := DefaultRules()
	before := len(rules.Tolerances)
	other := rules
	other.SetHeadline(70 * ms)
	if err := other.Validate(); err != nil || len(other.Tolerances) != before+1 || len(rules.Tolerances) != before {
		t.Errorf("sweeps %v and %v: %v", other.Tolerances, rules.Tolerances, err)
	}
	if d := rules.Difference(&other); !strings.HasPrefix(d, "tolerances: ") {
		t.Errorf("difference %q", d)
	}
	rules.SetHeadline(100 * ms)
	if len(rules.Tolerances) != before || rules.Validate() != nil {
		t.Errorf("sweep %v", rules.Tolerances)
	}
}

// Recordings whose rate one side does not show are counted, not dropped.
func TestAgreementCountsWhatItLeavesOut(t *testing.T) {
	acc := NewAccumulator(DefaultRules(), Options{Resamples: 20})
	whole, short := beats(500*ms, 6), beats(500*ms, 2)
	for i, c := range []Case{
		{Reference: fromIntervals(whole), Predicted: whole},
		{Reference: fromIntervals(whole), Predicted: short},
		{Reference: fromIntervals(whole), Failed: true},
		{Reference: fromIntervals(short), Predicted: whole},
		{Predicted: whole}, // excluded: in no score
	} {
		c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i)
		r := mustScore(t, DefaultRules(), c)
		acc.Add(&r)
	}
	s := acc.Summary()
	for _, a := range s.Rates {
		if a.Recordings != 1 || a.NoReference != 1 || a.NoPrediction != 2 {
			t.Errorf("%s: %d compared, %d without reference, %d without prediction; want 1, 1, 2", a.Quantity, a.Recordings, a.NoReference, a.NoPrediction)
		}
	}
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	if want := "1 recording compared. Left out: 1 whose reference and 2 whose prediction shows fewer than 3 whole cycles."; !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
		t.Errorf("the text does not say %q:\n%s", want, b.String())
	}
}

// Every pooled row with ratios has the binomial intervals beside it.
func TestWilsonBesidePooledRows(t *testing.T) {
	for _, r := range threePeople(t, Options{MinPeople: 2}).Summary().Scores {
		headline := r.Anchor == Centre && r.ToleranceMS == 60
		if want := headline && r.Aggregate == Pooled && !r.F1.Null(); (r.Wilson != nil) != want {
			t.Errorf("%v %v %v %q: Wilson there %v, want %v", r.Class, r.Aggregate, r.ToleranceMS, r.Stratum, r.Wilson != nil, want)
		}
		if w := r.Wilson; w != nil {
			low, high := wilson(r.TP, r.TP+r.FN, confidence)
			if w.Recall != (Bounds{low, high}) || !w.IgnoresClusters || !(w.Precision[0] <= r.Precision && r.Precision <= w.Precision[1]) {
				t.Errorf("%v: %+v around %v and %v", r.Class, w, r.Recall, r.Precision)
			}
		}
	}
}

func TestConfusionIsPrinted(t *testing.T) {
	acc := NewAccumulator(DefaultRules(), Options{Resamples: 20})
	reference := beats(500*ms, 6)
	swapped := shifted(reference, 0)
	for i := range swapped {
		swapped[i].State = swapped[i].State.Exchanged()
	}
	r := mustScore(t, DefaultRules(), Case{Recording: "r", Person: "p", Reference: fromIntervals(reference), Predicted: swapped})
	acc.Add(&r)
	var b bytes.Buffer
	if err := acc.Summary().WriteText(&b); err != nil {
		t.Fatal(err)
	}
	if want := regexp.MustCompile(`(?m)^systole +0\.0 +0\.0 +0\.0 +100\.0 +0\.0`); !want.MatchString(b.String()) {
		t.Errorf("no row of systole taken for diastole:\n%s", b.String())
	}
}

// Thousands of reasons, as of recordings whose annotations have one fault, take
// few lines of text.
func TestReasonsAreBounded(t *testing.T) {
	s := NewAccumulator(DefaultRules(), Options{}).Summary()
	for i := range 3163 {
		s.Counts.ByReason = append(s.Counts.ByReason, ReasonCount{fmt.Sprintf("annotation %d unusable", i), 1})
	}
	var text bytes.Buffer
	if err := s.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(text.String(), "unusable"); n != 5 || !strings.Contains(text.String(), "  … and 3158 more reasons; scan counts") {
		t.Errorf("%d reasons:\n%s", n, text.String())
	}
}
