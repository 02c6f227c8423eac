package eval

import (
	"slices"
	"strings"
	"testing"
)

// The cells of an overview are the scores of the runs; a combination without a run
// stays empty.
func TestOverview(t *testing.T) {
	ecg := DefaultRules()
	ecg.Reference, ecg.S1Only = "ecg", true
	ecg.SetHeadline(100 * ms)
	on := func(r Run, dataSet string) Run {
		r.DataSet, r.Version = dataSet, "1"
		return r
	}
	hmm, peaks := on(runOf(t, "hmm", DefaultRules(), 0.05, 1, nil), "village"), on(runOf(t, "peaks", DefaultRules(), 0.2, 2, nil), "village")
	clinic := on(runOf(t, "hmm", ecg, 0.1, 3, func(i int, c *Case) { c.Failed = i == 4 }), "clinic")
	o, err := NewOverview([][]Run{{peaks, hmm}, {clinic}})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(o.Methods, []string{"peaks", "hmm"}) || len(o.Cells) != 3 || o.cell("peaks", 1) != nil {
		t.Fatalf("%d cells of %v", len(o.Cells), o.Methods)
	}
	for _, tt := range []struct {
		run    Run
		column int
		class  Class
	}{{hmm, 0, Both}, {peaks, 0, Both}, {clinic, 1, S1}} {
		want := find(t, tt.run.Results.Summary(), tt.class, Pooled, "")
		if got := o.cell(tt.run.Name, tt.column); got.Score.F1 != want.F1 || got.Score.Low != want.Low || got.Score.Class != tt.class {
			t.Errorf("%s in column %d: %+v, want %+v", tt.run.Name, tt.column, got.Score, want)
		}
	}
	if heads := o.heads(); !slices.Equal(heads, []string{"S1 and S2, 60 ms", "ecg, S1, 100 ms"}) {
		t.Errorf("heads %q", heads)
	}
	if note := o.table().Note; !strings.Contains(note, "[1] 1 of 48 recordings failed") || !strings.Contains(note, "clinic 1: S1 at the centre within 100 ms of the reference ecg, 48 recordings of 24 people.") {
		t.Errorf("note %q", note)
	}
	rows := csvOf(t, o.WriteTable)
	at := func(name string) int { return slices.Index(rows[0], name) }
	if last := rows[3]; last[at("method")] != "hmm" || last[at("data_set")] != "clinic" || last[at("reference")] != "ecg" || last[at("tolerance_ms")] != "100" || last[at("sounds")] != "S1" || last[at("failed")] != "1" {
		t.Errorf("row %v of %v", last, rows[0])
	}
}

func TestOverviewRefuses(t *testing.T) {
	a := runOf(t, "a", DefaultRules(), 0.1, 1, nil)
	onset := DefaultRules()
	onset.Anchor = Onset
	for _, tt := range []struct {
		column []Run
		want   string
	}{
		{[]Run{a, a}, "two runs of a on village: give each a name of its own with --name"},
		{[]Run{a, runOf(t, "b", onset, 0.1, 1, nil)}, "different rules, anchor: centre against onset"},
		{[]Run{a, runOf(t, "b", DefaultRules(), 0.1, 1, func(i int, c *Case) {
			if i == 7 {
				c.Recording = "other"
			}
		})}, "number 8 is r07 against other"},
	} {
		tt.column[0].DataSet = "village"
		if _, err := NewOverview([][]Run{tt.column}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
}
