package pipeline

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
)

// withExchanged is atRest with a second reference, in which S1 and S2, systole and
// diastole are exchanged.
func withExchanged(t *testing.T, n int) config.Input {
	t.Helper()
	src := atRest(t, n)
	text, err := os.ReadFile(src.Layout)
	if err != nil {
		t.Fatal(err)
	}
	_, states, ok := strings.Cut(string(text), "  - name: states\n")
	if !ok {
		t.Fatalf("no reference in the layout:\n%s", text)
	}
	exchanged := strings.NewReplacer("S1: S1", "S1: S2", "S2: S2", "S2: S1", "systole: systole", "systole: diastole", "diastole: diastole", "diastole: systole").Replace(states)
	if err := os.WriteFile(src.Layout, []byte(string(text)+"  - name: exchanged\n"+exchanged), 0o644); err != nil {
		t.Fatal(err)
	}
	return src
}

// The name of the reference chooses what is scored, and stands in plan, table and
// summary. Runs of two references do not mix.
func TestReferenceOfARun(t *testing.T) {
	src := withExchanged(t, 3)
	folders, heads := map[string]string{}, map[string]eval.Score{}
	for _, name := range []string{"", "states", "exchanged"} {
		c := configFor(t, src)
		c.Reference = name
		summary := run(t, c).Summary
		folders[name], heads[name] = c.Out, summary.HeadlineRow
		want := name
		if name == "" {
			want = "states"
		}
		plan, err := rundir.ReadPlan(c.Out)
		if err != nil || plan.Reference != want || summary.Rules.Reference != want {
			t.Errorf("%q: plan %q, rules %q, want %q: %v", name, plan.Reference, summary.Rules.Reference, want, err)
		}
		for _, r := range recordingsOf(t, c.Out) {
			if r.Reference != want {
				t.Errorf("%q: recording %s has the reference %q, want %q", name, r.Recording, r.Reference, want)
			}
		}
		var text strings.Builder
		if err := summary.WriteText(&text); err != nil || !strings.Contains(text.String(), "within 60 ms of the reference "+want) {
			t.Errorf("%q: the reference is not in the captions: %v\n%s", name, err, text.String())
		}
	}
	if a, b := heads["states"], heads["exchanged"]; a.F1 < 0.9 || b.F1 > 0.5 {
		t.Errorf("F1 %v against states and %v against states exchanged", a.F1, b.F1)
	}
	if a, b := readPlan(t, folders[""]).Digest, readPlan(t, folders["states"]).Digest; a != b {
		t.Errorf("the default and its name give plans %s and %s", a, b)
	}

	c := configFor(t, src)
	c.Out, c.Reference, c.Resume = folders["states"], "exchanged", true
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), `the reference was "states" and is now "exchanged"`) {
		t.Errorf("resumed with another reference: %v", err)
	}
	c.Out, c.Reference = filepath.Join(t.TempDir(), "out"), "ecg"
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), `no reference "ecg": it has states, exchanged`) {
		t.Errorf("an unknown reference: %v", err)
	}
}

func readPlan(t *testing.T, dir string) *rundir.Plan {
	t.Helper()
	plan, err := rundir.ReadPlan(dir)
	if err != nil || plan == nil {
		t.Fatalf("plan of %s: %v", dir, err)
	}
	return plan
}

// Every data set of a run must have the reference; by default it is the first of
// the first layout.
func TestReferenceOfSeveralDataSets(t *testing.T) {
	c := configFor(t, withExchanged(t, 1))
	c.Inputs = append(c.Inputs, village(t))
	c.Reference = "exchanged"
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), `layout screening: no reference "exchanged": it has states`) {
		t.Errorf("%v", err)
	}
}

// The states of a run are scored against another reference of its data set, with
// the same figures as a run with this reference.
func TestScoreAgainstAnotherReference(t *testing.T) {
	src := withExchanged(t, 3)
	c := configFor(t, src)
	was := run(t, c)
	states := c.Out
	c.Reference = "exchanged"
	c.Out = filepath.Join(t.TempDir(), "run")
	want := run(t, c).Summary.HeadlineRow

	score := configFor(t, src)
	score.Reference = "exchanged"
	got, err := ScoreStates(context.Background(), score, states, nil)
	if err != nil {
		t.Fatal(err)
	}
	if h := got.Summary.HeadlineRow; h.TP != want.TP || h.FP != want.FP || h.FN != want.FN || h.F1 == was.Summary.HeadlineRow.F1 {
		t.Errorf("TP, FP, FN %d, %d, %d, want %d, %d, %d", h.TP, h.FP, h.FN, want.TP, want.FP, want.FN)
	}
	if plan := readPlan(t, score.Out); plan.Reference != "exchanged" || plan.Config.Method != c.Method {
		t.Errorf("plan names reference %q and method %q", plan.Reference, plan.Config.Method)
	}
	for i, r := range recordingsOf(t, score.Out) {
		if before := recordingsOf(t, states)[i]; r.Reference != "exchanged" || r.Method != before.Method || r.ModelDigest != before.ModelDigest || r.Confidence != before.Confidence {
			t.Errorf("recording %s: %+v", r.Recording, r)
		}
	}

	score.Out = states
	if _, err := ScoreStates(context.Background(), score, states, nil); err == nil || !strings.Contains(err.Error(), "give another folder with --out") {
		t.Errorf("into the folder of the states: %v", err)
	}
	score.Out, score.Inputs = filepath.Join(t.TempDir(), "out"), nil
	if _, err := ScoreStates(context.Background(), score, states, nil); err == nil || !strings.Contains(err.Error(), `holds the reference "states": to score it against "exchanged", give the data set`) {
		t.Errorf("without data: %v", err)
	}
	if _, err := Extract(context.Background(), func() config.Config {
		c := configFor(t, src)
		c.Reference = "exchanged"
		return c
	}(), states, "reference", nil); err == nil || !strings.Contains(err.Error(), "give --reference states") {
		t.Errorf("extract of another reference: %v", err)
	}
}
