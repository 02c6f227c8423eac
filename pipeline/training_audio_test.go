package pipeline

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/train"
)

// Recordings that a model has learnt from are known by their audio, whatever
// their people are called, as in a copy without the table of second ids.
func TestModelKnowsAudio(t *testing.T) {
	src := village(t)
	c := configFor(t, src)
	c.Method = "logistic-hsmm"
	model := filepath.Join(t.TempDir(), "model.json")
	learnt := fit(t, c, train.Target{Model: model, Date: "2026-02-03"}).Model

	wavs, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.wav"))
	if err != nil || len(wavs) < 10 {
		t.Fatal(wavs, err)
	}
	bare := t.TempDir()
	copied := 0
	for _, wav := range wavs {
		annotation := strings.TrimSuffix(wav, ".wav") + ".csv"
		if _, err := os.Stat(annotation); err != nil || copied == 10 {
			continue
		}
		for _, file := range []string{wav, annotation} {
			content, err := os.ReadFile(file)
			if err == nil {
				err = os.WriteFile(filepath.Join(bare, filepath.Base(file)), content, 0o600)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		copied++
	}
	c = configFor(t, config.Input{Data: bare, Layout: "plain"})
	c.Method, c.Model = "logistic-hsmm", model
	for _, p := range learnt.People {
		if strings.HasPrefix(p, "plain/") {
			t.Fatalf("the model knows %s by name", p)
		}
	}
	_, err = Run(context.Background(), c, nil)
	for _, want := range []string{"by the audio of recording", "under another name", "--training-overlap leave-out"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("run: %v, want %q", err, want)
		}
	}
	c.Overlap = config.LeaveOutOverlap
	report := run(t, c)
	if n := report.Summary.Counts; n.Scored != 0 || n.In != copied {
		t.Errorf("with everybody known by audio: %+v", n)
	}
	for _, row := range recordingsOf(t, c.Out) {
		if row.Outcome == "done" && (row.PersonInTrainingData == nil || !*row.PersonInTrainingData) {
			t.Errorf("recording %s: person_in_training_data is %v", row.Recording, row.PersonInTrainingData)
		}
	}
	found := false
	for _, reason := range report.Summary.Counts.ByReason {
		found = found || reason.Reason == scoring.ReasonOverlap
	}
	if !found {
		t.Errorf("the reason is not counted: %+v", report.Summary.Counts.ByReason)
	}
}

// One audio under two people is refused in a cross-validation, which would learn
// from the one and score the other.
func TestCrossvalRefusesCopies(t *testing.T) {
	src := villageCopy(t)
	c := configFor(t, src)
	c.Folds = 3
	c.Out = filepath.Join(t.TempDir(), "names")
	names := filepath.Join(src.Data, "recordings")
	// A person of each fold gets the same recording.
	for _, id := range []string{"af01_mitral", "af02_mitral", "af03_mitral", "af04_mitral", "af05_mitral"} {
		for _, ending := range []string{".wav", ".csv"} {
			content, err := os.ReadFile(filepath.Join(names, "af01_mitral"+ending))
			if err == nil {
				err = os.WriteFile(filepath.Join(names, id+ending), content, 0o600)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	if _, err := Crossval(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "also that of another person") {
		t.Errorf("a cross-validation with one audio under five people: %v", err)
	}
}
