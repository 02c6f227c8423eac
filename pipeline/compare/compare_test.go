package compare

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
)

// atRest writes n short recordings of people at rest.
func atRest(t *testing.T, n int) config.Input {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, n, 8*time.Second, 3); err != nil {
		t.Fatal(err)
	}
	return config.Input{Data: dir, Layout: filepath.Join(dir, "many.yaml")}
}

// configFor returns a configuration with small parts.
func configFor(t *testing.T, src config.Input) config.Config {
	t.Helper()
	c := config.Default()
	c.Inputs = []config.Input{src}
	c.Out = filepath.Join(t.TempDir(), "out")
	c.PartSize = 7
	c.Scoring.Resamples = 50
	return c
}

// segmented segments a source with a method into a folder of that name.
func segmented(t *testing.T, src config.Input, method string, change func(*config.Config)) string {
	t.Helper()
	c := configFor(t, src)
	c.Out, c.Method = filepath.Join(t.TempDir(), method), method
	if change != nil {
		change(&c)
	}
	if _, err := pipeline.Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	return c.Out
}

func TestCompare(t *testing.T) {
	src := atRest(t, 9)
	a := segmented(t, src, "shannon-peaks", nil)
	b := segmented(t, src, "duration-hmm", func(c *config.Config) { c.PartSize = 4 })
	got, err := Run(context.Background(), Comparison{Folders: []string{a, b}, Scoring: config.Scoring{Resamples: 200}, Workers: 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got.Runs[0].Name != "shannon-peaks" || got.Runs[1].Name != "duration-hmm" || len(got.Pairs) != 1 {
		t.Fatalf("runs %v, %d pairs", got.Runs, len(got.Pairs))
	}

	// The scores are those that score gives.
	c := configFor(t, src)
	report, err := scoring.Score(context.Background(), c, b, nil)
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
	wider := func(c *config.Config) { c.Scoring.Tolerance = config.Duration(100 * time.Millisecond) }
	compare := func(rules config.Scoring, names []string, folders ...string) error {
		rules.Resamples = 20
		_, err := Run(context.Background(), Comparison{Folders: folders, Names: names, Scoring: rules, Workers: 1}, nil)
		return err
	}
	wanted := func(folder string) error {
		_, err := Run(context.Background(), Comparison{Folders: []string{folder, folder}, Reference: "ecg", Workers: 1}, nil)
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

	layout, err := os.ReadFile(edited.Layout)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(edited.Layout, bytes.Replace(layout, []byte("name: states"), []byte("name: second"), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	otherName := segmented(t, edited, "duration-hmm", nil)

	incomplete := segmented(t, src, "shannon-peaks", nil)
	if err := table.PartsOf[table.State](incomplete).Remove(1); err != nil {
		t.Fatal(err)
	}

	for _, tt := range []struct {
		what string
		err  error
		want string
	}{
		{"one folder", compare(config.Scoring{}, nil, base), "two or more"},
		{"another reference wanted", wanted(base), `run duration-hmm holds the reference "states": score it against "ecg" with score --states`},
		{"one name twice", compare(config.Scoring{}, []string{"x", "x"}, base, base), `named "x"`},
		{"more names than folders", compare(config.Scoring{}, []string{"x", "y", "z"}, base, base), "3 names"},
		{"no results", compare(config.Scoring{}, nil, base, t.TempDir()), rundir.PlanFile},
		{"a part missing", compare(config.Scoring{}, nil, base, incomplete), "part-000001"},
		{"other rules", compare(config.Scoring{}, nil, base, otherRules), "headline tolerance: 60ms against 100ms"},
		{"other reference", compare(config.Scoring{}, nil, base, otherReference), "recording " + id},
		{"other name of the reference", compare(config.Scoring{}, []string{"x"}, base, otherName), `run x was made with the reference "states" and run duration-hmm with "second": score both against one`},
		{"other recordings", compare(config.Scoring{}, []string{"x"}, base, otherRecordings), "different recordings"},
	} {
		if tt.err == nil || !strings.Contains(tt.err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.what, tt.err, tt.want)
		}
	}
	if err := compare(config.Scoring{Tolerance: config.Duration(40 * time.Millisecond)}, nil, base, otherRules); err != nil {
		t.Errorf("one tolerance for both: %v", err)
	}
	cancelled, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Run(cancelled, Comparison{Folders: []string{base, base}, Names: []string{"x", "y"}, Workers: 1}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Where one run leaves out people of its training data and the other scores them,
// that is named as the cause. Two that leave out the same people are compared.
func TestCompareNamesPeopleLeftOut(t *testing.T) {
	src := atRest(t, 12)
	c := configFor(t, src)
	c.Method = "duration-hmm"
	c.Model = filepath.Join(t.TempDir(), "model.json")
	c.MostPeople = 1
	if _, err := train.Fit(context.Background(), c, train.Target{Model: c.Model, Date: "2026-02-03"}, nil); err != nil {
		t.Fatal(err)
	}
	known := func(c2 *config.Config) { c2.Model = c.Model }
	a := segmented(t, src, "duration-hmm", known)
	b := segmented(t, src, "duration-hmm", known)
	all := segmented(t, src, "shannon-peaks", nil)
	compare := func(folders ...string) (*eval.Comparison, error) {
		return Run(context.Background(), Comparison{
			Folders: folders, Names: []string{"first", "second"}, Scoring: config.Scoring{Resamples: 20}, Workers: 1,
		}, nil)
	}
	for _, folders := range [][]string{{a, all}, {all, a}} {
		_, err := compare(folders...)
		for _, want := range []string{"leaves out the people on whose recordings its method was fitted", "crossval"} {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%v: %v, want %q", folders, err, want)
			}
		}
	}
	asked := segmented(t, src, "duration-hmm", func(c2 *config.Config) { c2.Model, c2.Overlap = c.Model, config.ScoreOverlap })
	if got, err := compare(asked, all); err != nil || got.Recordings != 12 || got.Runs[0].Provenance.Trained == 0 {
		t.Errorf("a run that was asked to score people of its training data: %v", err)
	}
	got, err := compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	if got.Recordings == 0 || !slices.ContainsFunc(got.Warnings, func(w string) bool { return strings.Contains(w, "are left out") }) {
		t.Errorf("%d recordings compared, warnings %q", got.Recordings, got.Warnings)
	}
}
