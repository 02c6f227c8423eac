package pipeline

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
	"phonocycle/pipeline/workers"
)

func recordingsOf(t *testing.T, dir string) []table.Recording {
	t.Helper()
	var rows []table.Recording
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
	}
	return rows
}

// crossval cross-validates without features, which take most of the time.
func crossval(t *testing.T, c config.Config) *rundir.Report {
	t.Helper()
	bare := stageCrossval
	bare.outputs = []newOutput{newRecordings, newStates, newScores}
	r, err := execute(context.Background(), c, bare, source.Folds{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// In every fold the model has learnt from nobody whom it segments, and from all
// others who can serve.
func TestNobodyIsFittedAndScored(t *testing.T) {
	src := village(t)
	for seed := range uint64(2) {
		for _, k := range []int{2, 5} {
			c := configFor(t, src)
			c.Folds, c.FoldSeed = k, seed
			r := crossval(t, c)
			if r.Summary == nil || r.Summary.Counts.Scored == 0 {
				t.Fatalf("%d folds, seed %d: nothing was scored", k, seed)
			}
			models := make([]*segment.Model, k)
			digests := make([]string, k)
			for fold := range k {
				content, err := os.ReadFile(filepath.Join(c.Out, rundir.ModelsFolder, fmt.Sprintf("fold-%02d.json", fold)))
				if err != nil {
					t.Fatal(err)
				}
				if models[fold], err = segment.ParseModel(content, c.Method); err != nil {
					t.Fatal(err)
				}
				digests[fold] = rundir.Digest(content)
			}
			foldOf := map[string]int32{}
			for _, row := range recordingsOf(t, c.Out) {
				if row.Fold == nil {
					t.Fatalf("recording %s has no fold", row.Recording)
				}
				if fold, ok := foldOf[row.Person]; ok && fold != *row.Fold {
					t.Errorf("person %s is in folds %d and %d", row.Person, fold, *row.Fold)
				}
				foldOf[row.Person] = *row.Fold
				if row.ModelDigest != digests[*row.Fold] || row.PersonInTrainingData == nil || *row.PersonInTrainingData {
					t.Errorf("recording %s of fold %d: model %s, knows person %v", row.Recording, *row.Fold, row.ModelDigest, row.PersonInTrainingData)
				}
			}
			source := recordingsOf(t, c.Out)[0].DataSet
			for person, fold := range foldOf {
				for other, m := range models {
					key := segment.PersonKey(source, person)
					if m.Knows(key) && other == int(fold) {
						t.Errorf("%d folds, seed %d: the model of fold %d has learnt from %s, who is in it", k, seed, other, person)
					}
				}
			}
			for fold, m := range models {
				if len(m.People) == 0 || len(m.People) >= len(foldOf) {
					t.Errorf("the model of fold %d has learnt from %d of %d people", fold, len(m.People), len(foldOf))
				}
			}
		}
	}
}

// A cross-validation gives the same bytes, models included, for any number of
// workers and whether or not it was interrupted, in a fit or between parts.
func TestCrossvalGivesTheSameBytes(t *testing.T) {
	whole := func(c config.Config) {
		t.Helper()
		if _, err := Crossval(context.Background(), c, nil); err != nil {
			t.Fatal(err)
		}
	}
	c := configFor(t, village(t))
	c.Folds, c.PartSize, c.Workers = 3, 12, 1
	whole(c)
	want := tablesOf(t, c.Out)

	many := elsewhere(t, c)
	many.Workers = 5
	whole(many)
	sameTables(t, "workers", want, tablesOf(t, many.Out))

	again := elsewhere(t, c)
	again.Workers = 2
	for _, watch := range []func(stop func()) workers.Progress{
		func(stop func()) workers.Progress { return &stopAtNote{left: 6, stop: stop} },
		func(stop func()) workers.Progress { return &stopAfter{left: 14, stop: stop} },
	} {
		ctx, cancel := context.WithCancel(context.Background())
		if _, err := Crossval(ctx, again, watch(cancel)); !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "--resume") {
			t.Fatalf("interrupted: %v", err)
		}
		again.Resume = true
	}
	whole(again)
	sameTables(t, "interruptions", want, tablesOf(t, again.Out))
}

// The models of one cross-validation serve another, with other options of the method
// or under a condition, and only where it would have fitted the same.
func TestModelsFromAnotherCrossValidation(t *testing.T) {
	c := configFor(t, village(t))
	c.Folds, c.Method = 3, "logistic-hsmm" // whose fit has options
	crossval(t, c)

	again := elsewhere(t, c)
	again.ModelsFrom = c.Out
	again.Condition = "noise=white,snr=0"
	fitted := elsewhere(t, again)
	fitted.ModelsFrom = ""
	crossval(t, again)
	crossval(t, fitted)
	sameTables(t, "models of another folder", tablesOf(t, fitted.Out), tablesOf(t, again.Out))
	if bytes.Equal(tablesOf(t, c.Out)["states/part-000000.parquet"], tablesOf(t, again.Out)["states/part-000000.parquet"]) {
		t.Error("the condition changes nothing")
	}

	for _, test := range []struct {
		want   string
		change func(*config.Config)
	}{
		{"was fitted to other recordings", func(c *config.Config) { c.FoldSeed++ }},
		{"was fitted to other recordings", func(c *config.Config) { c.MostPeople = 2 }},
		{"was fitted to other recordings", func(c *config.Config) { c.Folds = 4 }},
		{"was fitted with the options", func(c *config.Config) {
			if err := c.SetFitOptions([]string{"l2=3"}); err != nil {
				t.Fatal(err)
			}
		}},
		{"holds models of logistic-hsmm", func(c *config.Config) { c.Method = "duration-hmm" }},
		{"was not written by crossval", func(c *config.Config) { c.ModelsFrom = t.TempDir() }},
	} {
		c := elsewhere(t, c)
		c.ModelsFrom = again.Out
		test.change(&c)
		if _, err := Crossval(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("error %v, want %q", err, test.want)
		}
	}
}

// stopAtNote ends a fit after some notes.
type stopAtNote struct {
	workers.Silent
	left int
	stop func()
}

func (s *stopAtNote) Note(string) {
	if s.left--; s.left == 0 {
		s.stop()
	}
}

func fit(t *testing.T, c config.Config, target train.Target) *train.Report {
	t.Helper()
	r, err := train.Fit(context.Background(), c, target, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestFitGivesTheSameFile(t *testing.T) {
	src := village(t)
	for _, method := range []string{"duration-hmm", "logistic-hsmm"} {
		var first []byte
		for _, workers := range []int{1, 4} {
			c := configFor(t, src)
			c.Method, c.Workers = method, workers
			path := filepath.Join(t.TempDir(), "new", "model.json")
			r := fit(t, c, train.Target{Model: path, Date: "2026-02-03"})
			if r.Failed() != 2 {
				t.Errorf("%s: the scenario has 2 recordings that cannot be read, %d are listed: %v", method, r.Failed(), r.Unused)
			}
			content, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = content
			}
			if !bytes.Equal(first, content) {
				t.Errorf("%s: the model differs with %d workers", method, workers)
			}
		}
	}
}

// A second recording of one id is left out of a fit, which is then that without
// it.
func TestFitLeavesACopyOut(t *testing.T) {
	src := villageCopy(t)
	c := configFor(t, src)
	path := filepath.Join(t.TempDir(), "model.json")
	want := fit(t, c, train.Target{Model: path, Date: "2026-02-03"})
	alone, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}

	layout, err := os.ReadFile(src.Layout)
	if err != nil {
		t.Fatal(err)
	}
	const include = "    - recordings/*.wav\n"
	both := strings.Replace(string(layout), include, include+"    - spare/*.wav\n", 1)
	both = strings.Replace(both, "'recordings/(", "'(?:recordings|spare)/(", 1)
	if err := os.WriteFile(src.Layout, []byte(both), 0o644); err != nil || both == string(layout) {
		t.Fatal("the layout has no line ", include, err)
	}
	wavs, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.wav"))
	if err != nil || len(wavs) == 0 {
		t.Fatal(wavs, err)
	}
	name := strings.TrimSuffix(filepath.Base(wavs[0]), ".wav")
	if err := os.Mkdir(filepath.Join(src.Data, "spare"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, ending := range []string{".wav", ".csv"} {
		content, err := os.ReadFile(filepath.Join(src.Data, "recordings", name+ending))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(src.Data, "spare", name+ending), content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got := fit(t, c, train.Target{Model: path, Date: "2026-02-03"})
	if len(got.Unused) != len(want.Unused)+1 || !slices.ContainsFunc(got.Unused, func(p rundir.Problem) bool {
		return p.Outcome == table.Excluded && strings.Contains(p.Reason, "id "+name+" already belongs to")
	}) {
		t.Errorf("left out: %v, want the copy beside %v", got.Unused, want.Unused)
	}
	if again, err := os.ReadFile(path); err != nil || !bytes.Equal(alone, again) {
		t.Errorf("with a copy beside it the model is another, %v", err)
	}
}

// A cross-validation has no shards to merge, and merge says so.
func TestMergeOfACrossValidation(t *testing.T) {
	dir := t.TempDir()
	p := rundir.Plan{Tool: rundir.Tool, Stage: rundir.StageCrossval, Config: config.Default(), DataSets: []rundir.DataSet{{Name: "village"}}}
	if err := p.Seal(); err != nil {
		t.Fatal(err)
	}
	if err := p.Write(dir, rundir.PlanFile); err != nil {
		t.Fatal(err)
	}
	if _, err := Merge(context.Background(), dir, config.Config{Workers: 1}, nil); err == nil || !strings.Contains(err.Error(), "crossval --resume") {
		t.Errorf("merge: %v", err)
	}
}

// A model is not scored on whom it knows, in a run or from tables; its
// segmentation is for everybody.
func TestScoringWhomTheModelKnows(t *testing.T) {
	c := configFor(t, village(t))
	c.Method, c.PartSize = "logistic-hsmm", 24
	path := filepath.Join(t.TempDir(), "model.json")
	model := fit(t, c, train.Target{Model: path, Date: "2026-02-03"}).Model
	c.Model = path
	_, err := Run(context.Background(), c, nil)
	_, person, _ := strings.Cut(model.People[0], "/")
	if err == nil || !strings.Contains(err.Error(), "first "+person+":") || !strings.Contains(err.Error(), "crossval") {
		t.Errorf("a run: %v, want an error that names %s", err, person)
	}
	if _, err := os.Stat(c.Out); err == nil {
		t.Error("a refused run leaves a folder behind")
	}

	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	for _, row := range recordingsOf(t, c.Out) {
		if knows := model.Knows(segment.PersonKey(row.DataSet, row.Person)); row.PersonInTrainingData == nil || *row.PersonInTrainingData != knows {
			t.Errorf("recording %s: person_in_training_data is %v, want %v", row.Recording, row.PersonInTrainingData, knows)
		}
	}
	checkKnownSay(t, c, model)
	scored := c
	scored.Out = filepath.Join(t.TempDir(), "scores")
	if _, err := scoring.Score(context.Background(), scored, c.Out, nil); err == nil || !strings.Contains(err.Error(), "person") {
		t.Errorf("score: %v, want an error that names a person", err)
	}

	scored.Overlap = config.LeaveOutOverlap
	r, err := scoring.Score(context.Background(), scored, c.Out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if n := r.Summary.Counts; n.Scored != 0 || n.Excluded != n.In-n.Failed {
		t.Errorf("with everybody known: %+v", n)
	}
	found := false
	for _, reason := range r.Summary.Counts.ByReason {
		found = found || reason.Reason == scoring.ReasonOverlap
	}
	if !found {
		t.Errorf("the reason is not counted: %+v", r.Summary.Counts.ByReason)
	}

	// Recordings are scored as they come, and by merge from the tables.
	c.Overlap, c.Out = config.LeaveOutOverlap, filepath.Join(t.TempDir(), "run")
	run(t, c)
	want := tablesOf(t, c.Out)
	if _, err := Merge(context.Background(), c.Out, config.Config{Workers: 2}, nil); err != nil {
		t.Fatal(err)
	}
	sameTables(t, "read from tables", want, tablesOf(t, c.Out))
}

func TestFitRefusals(t *testing.T) {
	src := village(t)
	other := configFor(t, src)
	other.Folds, other.Method = 3, "duration-hmm"
	crossval(t, other)
	ran := configFor(t, src)
	if _, err := Segment(context.Background(), ran, nil); err != nil {
		t.Fatal(err)
	}
	bare := t.TempDir() // recordings without references
	content, err := os.ReadFile(filepath.Join(src.Data, firstAudio(t, ran.Out)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(bare, "a.wav"), content, 0o600); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name   string
		change func(*config.Config, *train.Target)
		want   string
	}{
		{"nothing to fit", func(c *config.Config, _ *train.Target) { c.Method = "shannon-peaks" }, "no parameters"},
		{"no reference", func(c *config.Config, _ *train.Target) { c.Inputs = []config.Input{{Data: bare, Layout: "plain"}} }, "no annotated recording to fit to"},
		{"unknown fit option", func(c *config.Config, _ *train.Target) { _ = c.SetFitOptions([]string{"contxt=1"}) }, "contxt"},
		{"wrong fit option", func(c *config.Config, _ *train.Target) { _ = c.SetFitOptions([]string{"context=-1"}) }, "context is -1: want 0 to 10"},
		{"the score of another method", func(_ *config.Config, f *train.Target) { f.CrossValidated = other.Out }, "config.method was \"duration-hmm\" and is now \"logistic-hsmm\""},
		{"the score of a run", func(_ *config.Config, f *train.Target) { f.CrossValidated = ran.Out }, "not written by crossval"},
		{"no folder", func(_ *config.Config, f *train.Target) { f.CrossValidated = bare }, "not written by crossval"},
	}
	for _, tt := range tests {
		c := configFor(t, src)
		c.Method = "logistic-hsmm"
		target := train.Target{Model: filepath.Join(t.TempDir(), "model.json"), Date: "2026-02-03"}
		tt.change(&c, &target)
		if _, err := train.Fit(context.Background(), c, target, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
		if _, err := os.Stat(target.Model); err == nil {
			t.Errorf("%s: a model was written", tt.name)
		}
	}
}

// firstAudio returns the path below the data root of a recording that was
// segmented into an output folder.
func firstAudio(t *testing.T, dir string) string {
	t.Helper()
	for _, row := range recordingsOf(t, dir) {
		if row.Outcome == table.Done {
			return row.Audio
		}
	}
	t.Fatal("no recording")
	return ""
}

// The score of a cross-validation goes into the model of the same method,
// options and recordings.
func TestModelCarriesItsScore(t *testing.T) {
	src := village(t)
	c := configFor(t, src)
	c.Folds = 3
	r := crossval(t, c)
	target := train.Target{Model: filepath.Join(t.TempDir(), "model.json"), Date: "2026-02-03", CrossValidated: c.Out}
	m := fit(t, c, target).Model
	if m.Score == nil || m.Score.F1 != float64(r.Summary.HeadlineRow.F1) || m.Score.Folds != 3 || m.Score.ToleranceMS != 60 {
		t.Errorf("score %+v, want that of the cross-validation: %+v", m.Score, r.Summary.HeadlineRow)
	}
	few := c
	few.MostPeople = 2
	if _, err := train.Fit(context.Background(), few, target, nil); err == nil || !strings.Contains(err.Error(), "most-people") {
		t.Errorf("a fit to fewer people takes over the score: %v", err)
	}
}

// tiny makes conv-hsmm a network that learns in a moment.
func tiny(t *testing.T, c *config.Config) {
	t.Helper()
	c.Method = "conv-hsmm"
	if err := c.SetFitOptions([]string{"epochs=3", "architecture.channels=4", "architecture.dilations=[1, 2]", "validation=0.2"}); err != nil {
		t.Fatal(err)
	}
}

// An interrupted fit writes the best it has, and goes on from its checkpoint to
// the same model.
func TestInterruptedFit(t *testing.T) {
	src := village(t)
	whole := configFor(t, src)
	tiny(t, &whole)
	dir := t.TempDir()
	target := train.Target{Model: filepath.Join(dir, "whole.json"), Date: "2026-02-03"}
	fit(t, whole, target)

	part := target
	part.Model, part.Checkpoint = filepath.Join(dir, "part.json"), filepath.Join(dir, "checkpoint.json")
	ctx, cancel := context.WithCancel(context.Background())
	r, err := train.Fit(ctx, whole, part, &stopAtNote{left: 1, stop: cancel})
	if !errors.Is(err, context.Canceled) || r == nil || !strings.Contains(r.Model.Remark, "stopped before its end") {
		t.Fatalf("interrupted: %v, report %+v", err, r)
	}
	content, err := os.ReadFile(part.Model)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := segment.ParseModel(content, "conv-hsmm"); err != nil {
		t.Errorf("the model of an interrupted fit: %v", err)
	}
	fit(t, whole, part)
	want, err := os.ReadFile(target.Model)
	if err != nil {
		t.Fatal(err)
	}
	if content, err = os.ReadFile(part.Model); err != nil || !bytes.Equal(want, content) {
		t.Errorf("a fit that went on gives another model (%v)", err)
	}
	if _, err := os.Stat(part.Checkpoint); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the checkpoint of a finished fit is still there: %v", err)
	}
}
