package setup

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
)

// The methods that were fitted on the development people of circor refuse to
// score them, or leave them out, whatever the run configuration.
func TestEmbeddedModelsKnowTheirPeople(t *testing.T) {
	dir := t.TempDir()
	for name, content := range map[string]string{
		"training_data.csv":         "Patient ID,Additional ID\n2530,nan\n1,nan\n",
		"training_data/2530_AV.wav": "", "training_data/2530_AV.tsv": "0\t1\t1\n",
		"training_data/1_AV.wav": "", "training_data/1_AV.tsv": "0\t1\t1\n",
	} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	schmidt, err := config.Load("schmidt-2010")
	if err != nil {
		t.Fatal(err)
	}
	springer, err := config.Load("springer-2016")
	if err != nil {
		t.Fatal(err)
	}
	logistic, conv := config.Default(), config.Default()
	logistic.Method, conv.Method = "logistic-hsmm", "conv-hsmm"
	for what, c := range map[string]config.Config{
		"default": config.Default(), "schmidt-2010": schmidt, "springer-2016": springer, "logistic-hsmm": logistic, "conv-hsmm": conv,
	} {
		c.Inputs = []config.Input{{Data: dir, Layout: "circor"}}
		c.Folds = 0
		_, err := New(c, "run", Needs{Method: true, Scores: true})
		if err == nil || !strings.Contains(err.Error(), "first 2530:") || !strings.Contains(err.Error(), "leave-out") {
			t.Errorf("%s: %v, want a refusal of person 2530", what, err)
		}
		c.Overlap = config.LeaveOutOverlap
		run, err := New(c, "run", Needs{Method: true, Scores: true})
		if err != nil {
			t.Errorf("%s, left out: %v", what, err)
			continue
		}
		if what == "springer-2016" && !strings.Contains(strings.Join(strings.Fields(string(run.Plan.FitOptions)), ""), `"log-envelopes":false,"keep-spread":false,"context":0`) {
			t.Errorf("%s: fit options %s, want those of the model", what, run.Plan.FitOptions)
		}
		for i := range run.Corpus.Entries {
			e := &run.Corpus.Entries[i]
			if known := run.InTrainingData(e); known == nil || *known != (e.Person == "2530") {
				t.Errorf("%s: person %s in training data: %v", what, e.Person, known)
			}
		}
		if run.Plan.TrainingOverlap != 1 {
			t.Errorf("%s: %d people in the training data, want 1", what, run.Plan.TrainingOverlap)
		}
		run.Close()
	}
}
