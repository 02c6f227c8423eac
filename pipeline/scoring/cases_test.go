package scoring

import (
	"math"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// writeTables writes the tables recordings and states of three recordings of two
// people, of whom the first is in the training data.
func writeTables(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	yes, no, length := true, false, 2*time.Second
	write(t, dir, []table.Column{{Name: "murmur", Kind: table.Category}}, func(add func(table.Recording, table.DynamicValues)) {
		for i, id := range []string{"a1", "a2", "b1"} {
			overlap := &no
			if id[0] == 'a' {
				overlap = &yes
			}
			add(table.Recording{
				Recording: id, DataSet: "village", Person: id[:1], Site: "AV", Audio: id + ".wav", Outcome: table.Done, Duration: &length,
				ReferenceKind: string(pcg.IntervalReference), PersonInTrainingData: overlap,
				Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN(),
			}, table.DynamicValues{Labels: []string{[]string{"Present", "Absent", "Unknown"}[i]}})
		}
	})
	write(t, dir, nil, func(add func(table.State, table.DynamicValues)) {
		for _, id := range []string{"a1", "a2", "b1"} {
			for _, origin := range []string{table.Predicted, table.Reference} {
				for _, row := range table.IntervalStates(id, origin, []pcg.Interval{{Start: 0, End: time.Second, State: pcg.S1}}) {
					add(row, table.DynamicValues{})
				}
			}
		}
	})
	return dir
}

func write[T table.Row](t *testing.T, dir string, columns []table.Column, rows func(add func(T, table.DynamicValues))) {
	t.Helper()
	parts := table.PartsOf[T](dir)
	if err := parts.Make(); err != nil {
		t.Fatal(err)
	}
	w, err := table.Create[T](parts.Path(0), columns, table.Metadata{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	rows(func(row T, cells table.DynamicValues) {
		if err := w.Append(row, cells); err != nil {
			t.Fatal(err)
		}
	})
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
}

// Each case has the labels of its own recording.
func TestCasesHaveTheirLabels(t *testing.T) {
	cases, err := Cases(writeTables(t), 0, "")
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"Present", "Absent", "Unknown"} {
		got := map[string]string{}
		for _, l := range cases[i].Strata {
			got[l.Name] = l.Value
		}
		if got["murmur"] != want || got["data_set"] != "village" || got["site"] != "AV" {
			t.Errorf("case %d has the strata %v, want murmur %s", i, got, want)
		}
		if len(cases[i].Predicted) != 1 || len(cases[i].Reference.Intervals) != 1 {
			t.Errorf("case %d has %d predicted and %d reference intervals", i, len(cases[i].Predicted), len(cases[i].Reference.Intervals))
		}
	}
}

// People of the training data are refused by name, or lose their reference and
// carry the reason.
func TestCasesOfTrainingData(t *testing.T) {
	dir := writeTables(t)
	if _, err := Cases(dir, 0, config.RefuseOverlap); err == nil || !strings.Contains(err.Error(), "person a is among those") {
		t.Errorf("refuse: %v", err)
	}
	cases, err := Cases(dir, 0, config.LeaveOutOverlap)
	if err != nil {
		t.Fatal(err)
	}
	for i, left := range []bool{true, true, false} {
		if got := len(cases[i].Reference.Intervals) == 0; got != left || (cases[i].Reason == ReasonOverlap) != left {
			t.Errorf("case %d: reference gone %v, reason %q; want left out %v", i, got, cases[i].Reason, left)
		}
	}
}
