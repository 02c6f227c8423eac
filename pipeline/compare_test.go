package pipeline

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/table"
)

// atRest writes n short recordings of people at rest.
func atRest(t *testing.T, n int) Source {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, n, 8*time.Second, 3); err != nil {
		t.Fatal(err)
	}
	return Source{Data: dir, Layout: filepath.Join(dir, "many.yaml")}
}

// segmented segments a source with a method into a folder of that name.
func segmented(t *testing.T, src Source, method string, change func(*Config)) string {
	t.Helper()
	c := configFor(t, src)
	c.Out, c.Method = filepath.Join(t.TempDir(), method), method
	if change != nil {
		change(&c)
	}
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	return c.Out
}

func TestCompare(t *testing.T) {
	src := atRest(t, 9)
	a := segmented(t, src, "shannon-peaks", nil)
	b := segmented(t, src, "duration-hmm", func(c *Config) { c.PartSize = 4 })
	got, err := Compare(context.Background(), Comparison{Folders: []string{a, b}, Scoring: Scoring{Resamples: 200}, Workers: 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got.Runs[0] != "shannon-peaks" || got.Runs[1] != "duration-hmm" || len(got.Pairs) != 1 {
		t.Fatalf("runs %v, %d pairs", got.Runs, len(got.Pairs))
	}

	// The scores are those that score gives.
	c := configFor(t, src)
	report, err := Score(context.Background(), c, b, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range got.Scores {
		if h := report.Summary.HeadlineRow; s.Run == "duration-hmm" && s.Class == eval.Both && s.Aggregate == eval.Pooled && (s.TP != h.TP || s.FP != h.FP || s.FN != h.FN) {
			t.Errorf("compare counts %d, %d, %d; score %d, %d, %d", s.TP, s.FP, s.FN, h.TP, h.FP, h.FN)
		}
	}
}

func TestCompareRefusesWhatCannotBeCompared(t *testing.T) {
	src := atRest(t, 9)
	base := segmented(t, src, "duration-hmm", nil)
	wider := func(c *Config) { c.Scoring.Tolerance = Duration(100 * time.Millisecond) }
	compare := func(scoring Scoring, names []string, folders ...string) error {
		scoring.Resamples = 20
		_, err := Compare(context.Background(), Comparison{Folders: folders, Names: names, Scoring: scoring, Workers: 1}, nil)
		return err
	}
	otherRules := segmented(t, src, "shannon-peaks", wider)

	edited := atRest(t, 9)
	annotations, err := filepath.Glob(filepath.Join(edited.Data, "recordings", "*.csv"))
	if err != nil || len(annotations) < 2 {
		t.Fatal(annotations, err)
	}
	content, err := os.ReadFile(annotations[0])
	if err != nil {
		t.Fatal(err)
	}
	shorter := content[:bytes.LastIndexByte(bytes.TrimSpace(content), '\n')+1]
	id := strings.TrimSuffix(filepath.Base(annotations[0]), ".csv")
	if err := os.WriteFile(annotations[0], shorter, 0o644); err != nil {
		t.Fatal(err)
	}
	otherReference := segmented(t, edited, "shannon-peaks", nil)
	if err := os.WriteFile(annotations[0], content, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(strings.TrimSuffix(annotations[1], ".csv") + ".wav"); err != nil {
		t.Fatal(err)
	}
	otherRecordings := segmented(t, edited, "duration-hmm", nil)

	incomplete := segmented(t, src, "shannon-peaks", nil)
	if err := table.PartsOf[table.State](incomplete).Remove(1); err != nil {
		t.Fatal(err)
	}

	for _, tt := range []struct {
		what string
		err  error
		want string
	}{
		{"one folder", compare(Scoring{}, nil, base), "two or more"},
		{"one name twice", compare(Scoring{}, []string{"x", "x"}, base, base), `named "x"`},
		{"more names than folders", compare(Scoring{}, []string{"x", "y", "z"}, base, base), "3 names"},
		{"no results", compare(Scoring{}, nil, base, t.TempDir()), planFile},
		{"a part missing", compare(Scoring{}, nil, base, incomplete), "part-000001"},
		{"other rules", compare(Scoring{}, nil, base, otherRules), "headline tolerance: 60ms against 100ms"},
		{"other reference", compare(Scoring{}, nil, base, otherReference), "recording " + id},
		{"other recordings", compare(Scoring{}, []string{"x"}, base, otherRecordings), "not on the same recordings"},
	} {
		if tt.err == nil || !strings.Contains(tt.err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.what, tt.err, tt.want)
		}
	}
	if err := compare(Scoring{Tolerance: Duration(40 * time.Millisecond)}, nil, base, otherRules); err != nil {
		t.Errorf("one tolerance for both: %v", err)
	}
	cancelled, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Compare(cancelled, Comparison{Folders: []string{base, base}, Names: []string{"x", "y"}, Workers: 1}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
