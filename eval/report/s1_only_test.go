package report

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// A page about S1 alone shows no empty figure, no NaN and nothing of S2, and says
// what is left out.
func TestPageOfS1Alone(t *testing.T) {
	rules := eval.DefaultRules()
	rules.Reference, rules.S1Only = "ecg", true
	scorer, err := eval.NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	auditor, err := eval.NewAuditor(rules)
	if err != nil {
		t.Fatal(err)
	}
	intervals := cycles(300*ms, 0, 10)
	reference := pcg.Reference{Kind: pcg.ECGReference, Unannotated: []pcg.Interval{{Start: 2 * time.Second, End: 3 * time.Second}}}
	for _, iv := range intervals {
		if iv.State == pcg.S1 && (iv.End < 2*time.Second || iv.Start > 3*time.Second) {
			reference.Points = append(reference.Points, pcg.Point{At: iv.Centre(), Sound: pcg.S1})
		}
	}
	page := &Page{Title: "A report"}
	var runs []eval.Run
	for k := range 2 {
		acc, details := eval.NewAccumulator(rules, eval.Options{Resamples: 50, Seed: 1}), &Details{}
		for i := range 12 {
			c := eval.Case{
				Recording: fmt.Sprint("r", i), Person: fmt.Sprint("p", i), Length: 9 * time.Second,
				Strata: []pcg.Label{{Name: "site", Value: []string{"A", "B"}[i%2]}}, Reference: reference, Predicted: cycles(300*ms, time.Duration(20*k+i)*ms, 10),
			}
			if i == 3 {
				c.Predicted = exchanged(c.Predicted)
			}
			result := scorer.Score(&c)
			acc.Add(&result)
			details.Add(&result, &rules)
			if k == 0 {
				auditor.Add(c, []eval.Prediction{{Intervals: c.Predicted}})
			}
		}
		name := fmt.Sprint("run ", k)
		page.Runs = append(page.Runs, Run{Name: name, Summary: acc.Summary(), Details: details})
		runs = append(runs, eval.Run{Name: name, Results: acc})
	}
	page.Audit = auditor.Audit()
	if page.Comparison, err = eval.Compare(runs, eval.Options{Resamples: 50, Seed: 1}); err != nil {
		t.Fatal(err)
	}
	view := exampleView("r0")
	view.Reference, view.S1Only = reference, true
	page.Recordings, page.Groups = []Recording{{View: view}}, []Group{{Title: "Best", Recordings: []int{0}}}

	html := written(t, page)
	for _, want := range []string{
		"S1 alone (the reference marks no S2)", "of the reference ecg", "Left out: the reference or the prediction marks points", "Disagreement with the reference",
		"either can be wrong", "S2 has no reference and is in no score", `id="deltas-title"`, `id="rate-agreement-title"`, "reference: 8 S1.", "in mean F1 of S1 over people",
	} {
		if !strings.Contains(html, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, no := range []string{"NaN", `id="confusion-title"`, `id="systole-agreement-title"`, "oth sounds", "S2 centre", "S1 onset", "S2 found", "Whole cycles", "wrong reference"} {
		if at := strings.Index(html, no); at >= 0 {
			t.Errorf("the page has %q: …%s…", no, html[max(0, at-100):min(len(html), at+100)])
		}
	}
	for _, f := range page.figures() {
		if f.text == "" {
			t.Errorf("figure %s has no text", f.name)
		}
	}
}
