package eval

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval/tabular"
)

// Against a run there are only the pairs with it, each as run minus that one, with p
// adjusted for them alone; what they share with all pairs is the same.
func TestCompareAgainst(t *testing.T) {
	rules := DefaultRules()
	runs := []Run{
		runOf(t, "a", rules, 0.1, 1, nil), runOf(t, "b", rules, 0.15, 2, nil),
		runOf(t, "c", rules, 0.11, 3, nil), runOf(t, "d", rules, 0.2, 4, nil),
	}
	options := Options{Seed: 1, Resamples: 200}
	all, err := Compare(runs, options)
	if err != nil {
		t.Fatal(err)
	}
	c, err := CompareAgainst(runs, "b", options)
	if err != nil {
		t.Fatal(err)
	}
	var p []float64
	for i, want := range []string{"a", "c", "d"} {
		pair := &c.Pairs[i]
		if pair.First != "b" || pair.Second != want || len(c.Pairs) != 3 || c.Against != "b" {
			t.Fatalf("pair %d is %s and %s, of %d", i, pair.First, pair.Second, len(c.Pairs))
		}
		at := slices.IndexFunc(all.Pairs, func(q Pair) bool { return q.First+q.Second == "b"+want || q.First+q.Second == want+"b" })
		if q := &all.Pairs[at]; math.Abs(float64(q.Test.P-pair.Test.P)) > 1e-12 {
			t.Errorf("b and %s: p %v, among all pairs %v", want, pair.Test.P, q.Test.P)
		}
		d := pair.difference(Both, PerPerson)
		if math.Abs(float64(d.Difference-(d.Second-d.First))) > 1e-15 || d.First != find(t, runs[1].Results.Summary(), Both, PerPerson, "").F1 {
			t.Errorf("difference %v of %s, want %v − %v", d.Difference, want, d.Second, d.First)
		}
		p = append(p, float64(pair.Test.P))
	}
	// Holm by hand: the smallest of three is tripled, the next doubled, none falls below
	// the one before.
	order := []int{0, 1, 2}
	slices.SortFunc(order, func(i, j int) int { return int(math.Copysign(1, p[i]-p[j])) })
	before := 0.0
	for k, i := range order {
		before = max(before, min(1, p[i]*float64(3-k)))
		if got := float64(c.Pairs[i].AdjustedP); math.Abs(got-before) > 1e-15 {
			t.Errorf("adjusted p of %s is %v, want %v", c.Pairs[i].Second, got, before)
		}
	}
	if _, err := CompareAgainst(runs, "x", options); err == nil || !strings.Contains(err.Error(), `no run is named "x"`) {
		t.Errorf("against a run that is not there: %v", err)
	}
}

// The row of a run states its scores, and the difference beside the mean that it is
// of, with its own p.
func TestTableForAPaper(t *testing.T) {
	rules := DefaultRules()
	late := runOf(t, "late", rules, 0.15, 2, func(i int, c *Case) { c.Failed = i < 3 })
	late.Cost, late.DataSet, late.Version = 12.34, "village", "2.0"
	late.Provenance = Provenance{Method: "hmm", Origin: CrossValidated, Folds: 5, FoldSeed: 7}
	base := runOf(t, "base", rules, 0.05, 1, nil)
	base.DataSet, base.Version = "village", "2.0"
	base.Provenance = Provenance{Method: "base", Origin: NotFitted}
	c, err := CompareAgainst([]Run{late, base}, "base", Options{Seed: 1, Resamples: 200})
	if err != nil {
		t.Fatal(err)
	}
	rows := csvOf(t, c.WriteTable)
	get := func(row int, name string) string {
		at := slices.Index(rows[0], name)
		if at < 0 {
			t.Fatalf("no column %s among %v", name, rows[0])
		}
		return rows[row][at]
	}
	s := late.Results.Summary()
	pooled, mean := find(t, s, S2, Pooled, ""), find(t, s, Both, PerPerson, "")
	d := c.Pairs[0].difference(Both, PerPerson)
	for name, want := range map[string]string{
		"run": "late", "recordings": "48", "failed": "3", "people": "24", "data_set": "village", "data_set_version": "2.0",
		"s2_recall_percent": pooled.Recall.Percent(), "s2_precision_percent": pooled.Precision.Percent(), "s2_f1_percent": pooled.F1.Percent(),
		"s2_f1_low_percent": pooled.Low.Percent(), "s2_recall_high_percent": pooled.Intervals.Recall.BCa[1].Percent(),
		"both_mean_over_people_f1_percent":        mean.F1.Percent(),
		"both_mean_over_people_difference_points": d.Difference.Percent(), "both_mean_over_people_difference_low_points": d.Low.Percent(),
		"both_mean_over_people_adjusted_p": fmt.Sprintf("%.2g", float64(c.Pairs[0].AdjustedP)),
		"against":                          "base", "processor_s_per_h": "12.3", "provenance": "hmm, cross-validated, 5 folds by person, seed 7",
		"anchor": "centre", "tolerance_ms": "60",
	} {
		if got := get(1, name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	for _, name := range []string{"both_mean_over_people_difference_points", "both_mean_over_people_adjusted_p", "against", "processor_s_per_h"} {
		if got := get(2, name); got != "" {
			t.Errorf("%s of base is %q", name, got)
		}
	}
	var b bytes.Buffer
	if err := c.WriteTable(&b, tabular.LaTeX); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`\caption{Scores of S1 and S2 at the centre within 60 ms on 48 recordings of 24 people of village 2.0.`, "one-to-one within a class",
		"run minus base, of F1 as mean over people", "adjusted after Holm over 1 pair", "late: hmm, cross-validated, 5 folds by person, seed 7; base: not fitted.",
		`\multicolumn{3}{c}{S1}`, `\cmidrule(lr){`, "Failed: of the recordings", "CPU: processor seconds",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

// Runs of one method are told apart by the options in which they differ.
func TestOptionsOfRunsOfOneMethod(t *testing.T) {
	run := func(name, method, options, fit string) *ComparedRun {
		return &ComparedRun{Name: name, Provenance: Provenance{Method: method, Options: []byte(options), FitOptions: []byte(fit), Origin: NotFitted}}
	}
	runs := []*ComparedRun{
		run("a", "m", `{"level":0.3,"mode":"fast","same":1}`, ""), run("b", "m", `{"level":0.4,"mode":"slow","same":1}`, `{"context":2}`),
		run("c", "other", `{"level":7}`, ""), run("d", "m", `{"level":0.3,"mode":"fast","same":1}`, `{"context":1}`),
	}
	tellApart(runs)
	for i, want := range []string{"m, not fitted, with level=0.3, mode=fast", "m, not fitted, with level=0.4, mode=slow, context=2", "other, not fitted", "m, not fitted, with level=0.3, mode=fast, context=1"} {
		if got := runs[i].origin(); got != want {
			t.Errorf("%s: %q, want %q", runs[i].Name, got, want)
		}
	}
}

// csvOf returns the rows of a table written as CSV.
func csvOf(t *testing.T, write func(w io.Writer, f tabular.Format) error) [][]string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, tabular.CSV); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}
