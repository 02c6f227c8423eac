package eval

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/pcg"
)

// rulesOfS1 are rules of a reference that marks S1 only.
func rulesOfS1() Rules {
	rules := DefaultRules()
	rules.Reference, rules.S1Only = "ecg", true
	rules.SetHeadline(100 * ms)
	rules.AddTolerance(200 * ms)
	return rules
}

// sevenBeats is a reference of seven S1, with no known beat from 2.7 to 4 s.
func sevenBeats() pcg.Reference {
	ref := pcg.Reference{Kind: pcg.ECGReference, Unannotated: []pcg.Interval{{Start: 2700 * ms, End: 4000 * ms}}}
	for _, at := range []int{1000, 1800, 2600, 4200, 5000, 5800, 6600} {
		ref.Points = append(ref.Points, pcg.Point{At: time.Duration(at) * ms, Sound: pcg.S1})
	}
	return ref
}

// againstSevenBeats finds five of the seven S1 within 100 ms and one more within
// 200 ms, takes one for S2, and has three more S1, of which two lie outside scored
// time.
func againstSevenBeats() Case {
	var predicted []pcg.Interval
	predicted = append(predicted, sounds(pcg.S1, 1000)...)
	predicted = append(predicted, sounds(pcg.S2, 1300)...)
	predicted = append(predicted, sounds(pcg.S1, 1950)...)
	predicted = append(predicted, sounds(pcg.S2, 2600)...)
	predicted = append(predicted, sounds(pcg.S1, 3200, 4200, 5000, 5800, 6600, 7000)...)
	return Case{Recording: "a", Person: "p", Reference: sevenBeats(), Predicted: predicted, Length: 8 * time.Second}
}

func TestScoreOfS1Alone(t *testing.T) {
	r := mustScore(t, rulesOfS1(), againstSevenBeats())
	for _, tt := range []struct {
		tolerance           time.Duration
		tp, fp, fn, ignored int
	}{{100 * ms, 5, 1, 2, 2}, {150 * ms, 6, 0, 1, 2}, {200 * ms, 6, 0, 1, 2}} {
		if n := at(t, r, S1, Centre, tt.tolerance); n.TP != tt.tp || n.FP != tt.fp || n.FN != tt.fn || n.Ignored != tt.ignored {
			t.Errorf("at %v: %+v, want TP %d, FP %d, FN %d, ignored %d", tt.tolerance, n, tt.tp, tt.fp, tt.fn, tt.ignored)
		}
	}
	for _, n := range r.Counts {
		if n.Class != S1 || n.Anchor != Centre {
			t.Fatalf("counts of %v at the %v", n.Class, n.Anchor)
		}
	}
	if len(r.Matches) != 7+8 {
		t.Errorf("%d events, want 7 of the reference and 8 S1 of the prediction", len(r.Matches))
	}
	for _, m := range r.Matches {
		if m.Class != S1 {
			t.Fatalf("%v has the outcome %v without a reference", m.Class, m.Outcome)
		}
	}
	if want := 4500*ms + 1; r.ScoredTime != want {
		t.Errorf("scored time %v, want %v: 0.9 to 6.7 s without 1.3 s", r.ScoredTime, want)
	}
	m := r.Measures
	if m.Pairs != 5 || m.PairsAnyClass != 6 || m.Exchanged {
		t.Errorf("%d pairs, %d regardless of class, flagged %v; want 5, 6, false", m.Pairs, m.PairsAnyClass, m.Exchanged)
	}
	if m.Reference.CycleLength != 800*ms || m.Predicted.CycleLength != 800*ms || m.Reference.Systole != 0 || m.Cycles != 0 {
		t.Errorf("beats %v and %v, %d cycles; want 800 ms without a systole, none", m.Reference, m.Predicted, m.Cycles)
	}
	if r.Frames.Total() != 0 {
		t.Errorf("%v of states are compared", r.Frames.Total())
	}
}

// S1 and S2 that are exchanged throughout are found though S2 has no reference.
func TestExchangeAgainstS1(t *testing.T) {
	c := Case{Recording: "a", Reference: sevenBeats(), Length: 8 * time.Second}
	for _, p := range c.Reference.Points {
		at := int(p.At / ms)
		c.Predicted = append(append(c.Predicted, sounds(pcg.S2, at)...), sounds(pcg.S1, at+300)...)
	}
	m := mustScore(t, rulesOfS1(), c).Measures
	if m.Pairs != 0 || m.PairsAnyClass != 7 || !m.Exchanged {
		t.Errorf("%d pairs, %d regardless of class, flagged %v; want 0, 7, true", m.Pairs, m.PairsAnyClass, m.Exchanged)
	}
}

// What needs S2, or the length of a sound, is null or not there, in every form of a
// summary, and the rules say so.
func TestSummaryOfS1Alone(t *testing.T) {
	rules := rulesOfS1()
	acc := NewAccumulator(rules, Options{Resamples: 50, Seed: 1})
	for i := range 12 {
		c := againstSevenBeats()
		c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i)
		c.Strata = []pcg.Label{{Name: "site", Value: []string{"apex", "base"}[i%2]}}
		r := mustScore(t, rules, c)
		acc.Add(&r)
	}
	s := acc.Summary()
	if h := s.HeadlineRow; h.Class != S1 || h.ToleranceMS != 100 || h.TP != 60 || h.FP != 12 || h.FN != 24 || h.F1 != Ratio(120./156) {
		t.Errorf("headline %+v, want S1 at 100 ms with 60, 12, 24", h)
	}
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"sounds":["S1"]`, `"doubled_s2":null`, `"merged_s2":null`, `"whole":null`, `"right":null`, `"s1_only":"S2 has no reference`} {
		if !bytes.Contains(text, []byte(want)) {
			t.Errorf("no %s in %s", want, text)
		}
	}
	for _, no := range []string{`"class":"both"`, `"class":"S2"`, `"anchor":"onset"`, `"place":"S2`, `"place":"S1 onset"`, `"quantity":"systole`, `"boundaries"`} {
		if bytes.Contains(text, []byte(no)) {
			t.Errorf("%s is in the summary", no)
		}
	}
	var read Summary
	if err := json.Unmarshal(text, &read); err != nil {
		t.Fatal(err)
	}
	if got := read.Rules.Rules(); !got.S1Only || got.Difference(&rules) != "" {
		t.Errorf("rules read back differ: %s", got.Difference(&rules))
	}
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"at the centre within 100 ms of the reference ecg", "Strata: S1, pooled", "S2 has no reference and is in no score", "heart rate, bpm"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	for _, f := range []tabular.Format{tabular.Text, tabular.Markdown, tabular.LaTeX, tabular.CSV, tabular.HTML} {
		for _, table := range s.Tables() {
			if err := table.Write(&b, f); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, no := range []string{"NaN", "both", "systole, ms", "S2 found", "Whole cycles", "Predicted states"} {
		if strings.Contains(b.String(), no) {
			t.Errorf("%q is in\n%s", no, b.String())
		}
	}
}

func TestCompareByS1Alone(t *testing.T) {
	rules := rulesOfS1()
	run := func(name string, cases func(i int) Case) Run {
		acc := NewAccumulator(rules, Options{Resamples: 50, Seed: 1})
		for i := range 12 {
			c := cases(i)
			c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i)
			r := mustScore(t, rules, c)
			acc.Add(&r)
		}
		return Run{Name: name, Results: acc}
	}
	good := run("good", func(i int) Case {
		c := againstSevenBeats()
		if c.Predicted = sounds(pcg.S1, 1000, 1800, 2600, 4200, 5000, 5800, 6600); i < 3 {
			c.Predicted = c.Predicted[1:]
		}
		return c
	})
	c, err := Compare([]Run{run("fair", func(int) Case { return againstSevenBeats() }), good}, Options{Resamples: 200})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs[0].Differences) != aggregates || c.Pairs[0].Better != "good" || !strings.Contains(c.Pairs[0].Words, "in mean F1 of S1 over people") {
		t.Errorf("%d differences, better %q: %s", len(c.Pairs[0].Differences), c.Pairs[0].Better, c.Pairs[0].Words)
	}
	var b bytes.Buffer
	if err := c.WriteText(&b); err != nil || strings.Contains(b.String(), "  both  ") || strings.Contains(b.String(), "NaN") || !strings.Contains(b.String(), "Scores of S1 at the centre") {
		t.Errorf("%v\n%s", err, b.String())
	}
	acc := NewAccumulator(DefaultRules(), Options{Resamples: 50, Seed: 1})
	r := mustScore(t, DefaultRules(), againstSevenBeats())
	acc.Add(&r)
	if _, err := Compare([]Run{good, {Name: "other", Results: acc}}, Options{}); err == nil || !strings.Contains(err.Error(), "different rules, reference: ecg against ") {
		t.Errorf("runs of two references: %v", err)
	}
}

// An audit against S1 lists what disagrees with it, of one method too, and does not
// call the reference wrong.
func TestAuditAgainstS1(t *testing.T) {
	a, err := NewAuditor(rulesOfS1())
	if err != nil {
		t.Fatal(err)
	}
	exchanged := Prediction{}
	for _, p := range sevenBeats().Points {
		at := int(p.At / ms)
		exchanged.Intervals = append(append(exchanged.Intervals, sounds(pcg.S2, at)...), sounds(pcg.S1, at+300)...)
	}
	for id, p := range map[string]Prediction{
		"right":     {Intervals: sounds(pcg.S1, 1000, 1800, 2600, 4200, 5000, 5800, 6600)},
		"exchanged": exchanged,
		"elsewhere": {Intervals: sounds(pcg.S1, 1200, 2200, 4600, 6200)},
	} {
		a.Add(Case{Recording: id, Reference: sevenBeats(), Length: 8 * time.Second}, []Prediction{p})
	}
	a.Add(Case{Recording: "noisy", Reason: "detectors of R waves agree on 40 % of beats"}, nil)
	audit := a.Audit()
	got := map[string]AuditReason{}
	for _, f := range audit.Findings {
		got[f.Recording] = f.Reason
	}
	if len(got) != 3 || got["exchanged"] != ExchangedByMethods || got["elsewhere"] != AgainstAllMethods || got["noisy"] != Unusable {
		t.Errorf("findings %v", audit.Findings)
	}
	var b bytes.Buffer
	if err := audit.WriteList(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"disagree", "reference ecg: 3 of 4", "S2 of 1 method lies at S1 of the reference", "either can be wrong"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "second look") {
		t.Errorf("the reference is called wrong:\n%s", b.String())
	}
}
