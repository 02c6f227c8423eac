package scoring

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// rowsOf reads a table that a test wrote.
func rowsOf[T table.Row](t *testing.T, dir string) (rows []T) {
	t.Helper()
	for row, err := range table.Read[T](table.PartsOf[T](dir).Path(0)) {
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
	}
	return rows
}

// Every cell of the tables scores and matches, of counts that are all different, and
// of events of each outcome.
func TestRowsOfTheTables(t *testing.T) {
	const ms = time.Millisecond
	dir := t.TempDir()
	tables, err := NewTables(dir, table.Metadata{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	w, err := tables.Create(0)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	result := eval.Result{
		Counts: []eval.Count{
			{Recording: "r", Class: eval.S1, Anchor: eval.Centre, Tolerance: 60 * ms, TP: 5, FP: 2, FN: 3, Ignored: 7},
			{Recording: "r", Class: eval.S2, Anchor: eval.Onset, Tolerance: 80 * ms, FN: 4},
			{Recording: "r", Class: eval.S2, Anchor: eval.Offset, Tolerance: 150 * ms},
		},
		Matches: []eval.Match{
			{Recording: "r", Source: eval.FromReference, Class: eval.S1, Outcome: eval.TruePositive, Anchor: 500 * ms, Partner: 520 * ms, Delta: 20 * ms},
			{Recording: "r", Source: eval.FromReference, Class: eval.S2, Outcome: eval.FalseNegative, Anchor: 800 * ms},
			{Recording: "r", Source: eval.FromReference, Class: eval.S2, Outcome: eval.Cut, Anchor: 900 * ms},
			{Recording: "r", Source: eval.FromPrediction, Class: eval.S1, Outcome: eval.Absorbed, Anchor: 30 * ms, Partner: 40 * ms, Delta: -10 * ms},
			{Recording: "r", Source: eval.FromPrediction, Class: eval.S1, Outcome: eval.FalsePositive, Anchor: 600 * ms},
			{Recording: "r", Source: eval.FromPrediction, Class: eval.S2, Outcome: eval.Ignored, Anchor: 2000 * ms},
		},
	}
	if err := w.Append(&eval.Case{Recording: "r", Person: "p"}, &result); err != nil {
		t.Fatal(err)
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	null := math.NaN()
	scores := []table.Score{
		{Recording: "r", Person: "p", Class: "S1", Anchor: "centre", ToleranceMS: 60, TP: 5, FP: 2, FN: 3, Ignored: 7, Precision: 5. / 7, Recall: 5. / 8, F1: 10. / 15},
		{Recording: "r", Person: "p", Class: "S2", Anchor: "onset", ToleranceMS: 80, FN: 4, Precision: null, Recall: 0, F1: 0},
		{Recording: "r", Person: "p", Class: "S2", Anchor: "offset", ToleranceMS: 150, Precision: null, Recall: null, F1: null},
	}
	if d := cmp.Diff(scores, rowsOf[table.Score](t, dir), cmpopts.EquateNaNs()); d != "" {
		t.Errorf("scores (− want, + got):\n%s", d)
	}
	at := func(n int) *time.Duration { d := time.Duration(n) * ms; return &d }
	matches := []table.Match{
		{Recording: "r", Person: "p", Class: "S1", Origin: "reference", Outcome: "TP", Anchor: 500 * ms, Partner: at(520), Delta: at(20)},
		{Recording: "r", Person: "p", Class: "S2", Origin: "reference", Outcome: "FN", Anchor: 800 * ms},
		{Recording: "r", Person: "p", Class: "S2", Origin: "reference", Outcome: "cut", Anchor: 900 * ms},
		{Recording: "r", Person: "p", Class: "S1", Origin: "predicted", Outcome: "absorbed", Anchor: 30 * ms, Partner: at(40), Delta: at(-10)},
		{Recording: "r", Person: "p", Class: "S1", Origin: "predicted", Outcome: "FP", Anchor: 600 * ms},
		{Recording: "r", Person: "p", Class: "S2", Origin: "predicted", Outcome: "ignored", Anchor: 2000 * ms},
	}
	if d := cmp.Diff(matches, rowsOf[table.Match](t, dir)); d != "" {
		t.Errorf("matches (− want, + got):\n%s", d)
	}
	// New tables begin empty.
	if _, err := NewTables(dir, table.Metadata{Tool: "test"}); err != nil {
		t.Fatal(err)
	}
	if left, err := table.PartsOf[table.Score](dir).List(); len(left) != 0 || err != nil {
		t.Errorf("parts %v are left, %v", left, err)
	}
}

// What a row of the table recordings says reaches the case.
func TestCaseOfARecording(t *testing.T) {
	length, yes, no := 2*time.Second, true, false
	interval := []pcg.Interval{{Start: 0, End: time.Second, State: pcg.S1}}
	point := []pcg.Point{{At: time.Second, Sound: pcg.S2}}
	row := func(change func(*table.Recording)) *table.Recording {
		r := table.Recording{Recording: "r", Person: "p", DataSet: "village", Site: "AV", Outcome: table.Done, Duration: &length, ReferenceKind: "intervals",
			Reason: "a reason", ReferenceNote: "a note"}
		change(&r)
		return &r
	}
	strata := []pcg.Label{{Name: "data_set", Value: "village"}, {Name: "site", Value: "AV"}, {Name: "sex", Value: "f"}}
	whole := pcg.Reference{Kind: pcg.IntervalReference, Intervals: interval}
	for _, tt := range []struct {
		name      string
		row       *table.Recording
		reference pcg.Reference
		overlap   config.Overlap
		want      eval.Case
		failure   string
	}{
		{"done", row(func(*table.Recording) {}), whole, config.RefuseOverlap,
			eval.Case{Reason: "a note", Length: length, Reference: whole}, ""},
		{"failed", row(func(r *table.Recording) { r.Outcome = table.Failed }), whole, config.RefuseOverlap,
			eval.Case{Failed: true, Reason: "a reason", Length: length, Reference: whole}, ""},
		{"excluded, length unknown", row(func(r *table.Recording) { r.Outcome, r.Duration = table.Excluded, nil }), whole, config.RefuseOverlap,
			eval.Case{Failed: true, Reason: "a reason", Reference: whole}, ""},
		{"points", row(func(r *table.Recording) { r.ReferenceKind = "points" }), pcg.Reference{Points: point}, config.RefuseOverlap,
			eval.Case{Reason: "a note", Length: length, Reference: pcg.Reference{Kind: pcg.PointReference, Points: point}}, ""},
		{"another person in the training data", row(func(r *table.Recording) { r.PersonInTrainingData = &no }), whole, config.RefuseOverlap,
			eval.Case{Reason: "a note", Length: length, Reference: whole}, ""},
		{"in the training data, refused", row(func(r *table.Recording) { r.PersonInTrainingData = &yes }), whole, config.RefuseOverlap, eval.Case{},
			"recording r: person p is among those that the method was fitted on"},
		{"in the training data, points, refused", row(func(r *table.Recording) { r.PersonInTrainingData = &yes }), pcg.Reference{Points: point}, config.RefuseOverlap, eval.Case{},
			"leave such people out of the scores with --training-overlap leave-out"},
		{"in the training data, nothing to score", row(func(r *table.Recording) { r.PersonInTrainingData = &yes }), pcg.Reference{}, config.RefuseOverlap,
			eval.Case{Reason: ReasonOverlap, Length: length, Reference: pcg.Reference{Kind: pcg.IntervalReference}}, ""},
		{"in the training data, left out", row(func(r *table.Recording) { r.PersonInTrainingData = &yes }), whole, config.LeaveOutOverlap,
			eval.Case{Reason: ReasonOverlap, Length: length, Reference: pcg.Reference{Kind: pcg.IntervalReference}}, ""},
		{"in the training data, not scored", row(func(r *table.Recording) { r.PersonInTrainingData = &yes }), whole, "",
			eval.Case{Reason: ReasonOverlap, Length: length, Reference: whole}, ""},
	} {
		s := Subject{Row: tt.row, Labels: []string{"f"}, Predicted: interval, Reference: tt.reference}
		got, err := s.Case([]string{"sex"}, tt.overlap)
		if tt.failure != "" {
			if err == nil || !strings.Contains(err.Error(), tt.failure) {
				t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.failure)
			}
			continue
		}
		tt.want.Recording, tt.want.Person, tt.want.Strata, tt.want.Predicted = "r", "p", strata, interval
		if d := cmp.Diff(tt.want, got); err != nil || d != "" {
			t.Errorf("%s: %v (− want, + got):\n%s", tt.name, err, d)
		}
	}
}

// A part whose states belong to no recording is refused, and points and intervals,
// predicted and reference states are kept apart.
func TestCasesOfStates(t *testing.T) {
	for _, id := range []string{"r", "other"} {
		dir := t.TempDir()
		write(t, dir, nil, func(add func(table.Recording, table.DynamicValues)) {
			add(table.Recording{Recording: "r", Outcome: table.Done, ReferenceKind: "points", Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN()}, table.DynamicValues{})
		})
		write(t, dir, nil, func(add func(table.State, table.DynamicValues)) {
			for _, row := range slices.Concat(
				table.IntervalStates(id, table.Predicted, []pcg.Interval{{Start: 0, End: time.Second, State: pcg.S1}, {Start: time.Second, End: 3 * time.Second, State: pcg.Systole}}),
				table.PointStates(id, table.Reference, []pcg.Point{{At: 2 * time.Second, Sound: pcg.S2}}),
			) {
				add(row, table.DynamicValues{})
			}
		})
		cases, err := Cases(dir, 0, "")
		if id == "other" {
			if err == nil || !strings.Contains(err.Error(), "recording other is not in the recordings table of the same part") {
				t.Errorf("states of a stranger: %v", err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if got, want := fmt.Sprint(cases[0].Predicted, cases[0].Reference.Points, cases[0].Reference.Intervals), "[S1 [0.000 s, 1.000 s) systole [1.000 s, 3.000 s)] [{2s S2}] []"; got != want {
			t.Errorf("states %s, want %s", got, want)
		}
	}
}

func TestRulesOfAConfiguration(t *testing.T) {
	defaults := eval.DefaultRules()
	for _, tt := range []struct {
		c          config.Scoring
		anchor     eval.Anchor
		headline   time.Duration
		tolerances int
		failure    string
	}{
		{config.Scoring{}, eval.Centre, 60 * time.Millisecond, 8, ""},
		{config.Scoring{Anchor: "onset", Tolerance: config.Duration(70 * time.Millisecond)}, eval.Onset, 70 * time.Millisecond, 9, ""},
		{config.Scoring{Anchor: "end"}, 0, 0, 0, `unknown anchor "end"`},
		{config.Scoring{Tolerance: -1}, 0, 0, 0, "is negative"},
	} {
		got, err := Rules(&tt.c, defaults)
		if tt.failure != "" {
			if err == nil || !strings.Contains(err.Error(), tt.failure) {
				t.Errorf("%+v: error %v, want one with %q", tt.c, err, tt.failure)
			}
			continue
		}
		if err != nil || got.Anchor != tt.anchor || got.Headline != tt.headline || len(got.Tolerances) != tt.tolerances {
			t.Errorf("%+v: rules %+v, %v", tt.c, got, err)
		}
	}
}
