package pipeline

import (
	"context"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
)

// shareList names five people of the village, one of them by a second id.
const shareList = "# the share\naf01\naf02\naf03\naf04\n\naf13\n"

// shareOfVillage returns a copy of the village with the recordings of shareList alone.
func shareOfVillage(t *testing.T) config.Input {
	t.Helper()
	share := villageCopy(t)
	files, err := filepath.Glob(filepath.Join(share.Data, "recordings", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		person, _, _ := strings.Cut(filepath.Base(file), "_")
		if !slices.Contains([]string{"af01", "af02", "af03", "af04", "af07", "af13"}, person) {
			if err := os.Remove(file); err != nil {
				t.Fatal(err)
			}
		}
	}
	return share
}

// writeList writes a list and returns its path.
func writeList(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// statesOf returns the predicted states of an output folder, by recording.
func statesOf(t *testing.T, dir string) map[string][]pcg.Interval {
	t.Helper()
	states := map[string][]pcg.Interval{}
	for _, s := range allRows[table.State](t, dir) {
		if iv, err := s.Interval(); err == nil && s.Origin == table.Predicted {
			states[s.Recording] = append(states[s.Recording], iv)
		}
	}
	return states
}

// Of a data set with more people, a list gives the folds, the models, the states and
// the scores that the people of the list give alone.
func TestListGivesWhatItsPeopleGiveAlone(t *testing.T) {
	alone := configFor(t, shareOfVillage(t))
	alone.Folds = 3
	listed := configFor(t, village(t))
	listed.Folds, listed.People = 3, writeList(t, "share.txt", shareList)
	want, got := crossval(t, alone), crossval(t, listed)
	if want.Selected != "" || !strings.HasPrefix(got.Selected, "13 of 28 recordings selected: people of the list share (digest ") {
		t.Errorf("selected %q and %q", want.Selected, got.Selected)
	}
	if got.Counts != want.Counts || got.InputDigest != want.InputDigest || !reflect.DeepEqual(got.Summary.HeadlineRow, want.Summary.HeadlineRow) {
		t.Errorf("%+v, %+v; alone %+v, %+v", got.Counts, got.Summary.HeadlineRow, want.Counts, want.Summary.HeadlineRow)
	}
	for _, name := range []string{"fold-00.json", "fold-01.json", "fold-02.json"} {
		a, err := os.ReadFile(filepath.Join(alone.Out, rundir.ModelsFolder, name))
		if err != nil {
			t.Fatal(err)
		}
		if b, err := os.ReadFile(filepath.Join(listed.Out, rundir.ModelsFolder, name)); err != nil || string(a) != string(b) {
			t.Errorf("model %s differs, %v", name, err)
		}
	}
	if !reflect.DeepEqual(statesOf(t, alone.Out), statesOf(t, listed.Out)) {
		t.Error("states differ")
	}
	if !reflect.DeepEqual(allRows[table.Match](t, alone.Out), allRows[table.Match](t, listed.Out)) {
		t.Error("matches differ")
	}

	// A run over all, scored for the list alone, keeps the folds of that run.
	all := configFor(t, village(t))
	all.Method, all.Folds = "shannon-peaks", 3
	crossval(t, all)
	part := configFor(t, village(t))
	part.People = listed.People
	r, err := ScoreStates(context.Background(), part, all.Out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Counts != want.Counts || r.Selected != got.Selected {
		t.Errorf("scored for the list: %+v, %s", r.Counts, r.Selected)
	}
	states, folds := statesOf(t, all.Out), map[string]int32{}
	for _, row := range recordingsOf(t, all.Out) {
		folds[row.Recording] = *row.Fold
	}
	for _, row := range recordingsOf(t, part.Out) {
		if row.Fold == nil || *row.Fold != folds[row.Recording] {
			t.Errorf("%s: fold %v, want %d", row.Recording, row.Fold, folds[row.Recording])
		}
	}
	for id, s := range statesOf(t, part.Out) {
		if !slices.Equal(s, states[id]) {
			t.Errorf("%s: states differ from those of the run", id)
		}
	}
}

// A run goes on, and is merged, with the list that it was begun with, however it is
// written, and with no other.
func TestAnotherListIsRefused(t *testing.T) {
	c := configFor(t, village(t))
	c.Method, c.Recordings = "shannon-peaks", writeList(t, "two.txt", "af01_mitral\naf02_mitral\n")
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(filepath.Join(c.Out, rundir.ManifestFile))
	if err != nil || !strings.Contains(string(content), `"listed": 28`) || !strings.Contains(string(content), `"name": "two"`) {
		t.Errorf("the manifest does not tell of the list: %v", err)
	}
	for list, want := range map[string]string{
		writeList(t, "two.txt", "# the same\naf02_mitral\naf01_mitral\n"): "",
		writeList(t, "two.txt", "af01_mitral\naf03_mitral\n"):             "the recordings were those of the list two (digest ",
		writeList(t, "not.txt", "!af01_mitral\n"):                         "are now those of the list not (digest ",
		"": "now no list is given with --recordings",
	} {
		again := c
		again.Resume, again.Recordings = true, list
		_, resumed := Segment(context.Background(), again, nil)
		_, merged := Merge(context.Background(), c.Out, again, nil)
		for what, err := range map[string]error{"resume": resumed, "merge": merged} {
			if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
				t.Errorf("%s with %s: %v, want %q", what, list, err, want)
			}
		}
	}
}

// What continues from states needs all its recordings there, counts whom of them the
// method knows, and says which list the states were made with.
func TestListOverStates(t *testing.T) {
	c := configFor(t, village(t))
	c.MostPeople = 4
	target := train.Target{Model: filepath.Join(t.TempDir(), "model.json"), Date: "2026-02-03"}
	known := fit(t, c, target).Model.People
	c.Model = target.Model
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	person := strings.TrimPrefix(known[0], "screening/")
	part := configFor(t, village(t))
	part.People = writeList(t, "one.txt", person+"\naf12\n")
	r, err := Extract(context.Background(), part, c.Out, table.Predicted, nil)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := rundir.ReadPlan(part.Out)
	if err != nil || plan.TrainingOverlap != 1 || r.Counts.In != len(recordingsOf(t, part.Out)) || r.Counts.In > 8 {
		t.Errorf("%d people of the training data, %+v, %v", plan.TrainingOverlap, r.Counts, err)
	}

	few := configFor(t, village(t))
	few.Method, few.People = "shannon-peaks", part.People
	if _, err := Segment(context.Background(), few, nil); err != nil {
		t.Fatal(err)
	}
	for _, people := range []string{"", writeList(t, "other.txt", "af02\n")} {
		other := configFor(t, village(t))
		other.People = people
		_, err := Extract(context.Background(), other, few.Out, table.Predicted, nil)
		if err == nil || !strings.Contains(err.Error(), ", and not af0") || !strings.Contains(err.Error(), "people of the list one") {
			t.Errorf("states of a list, extracted with %q: %v", people, err)
		}
	}
	bare := config.Default()
	bare.Out, bare.People = part.Out+"-scores", part.People
	if _, err := ScoreStates(context.Background(), bare, few.Out, nil); err == nil || !strings.Contains(err.Error(), "--data") {
		t.Errorf("scored by a list without data: %v", err)
	}
	bare.Inputs, bare.Out = part.Inputs, few.Out
	if _, err := ScoreStates(context.Background(), bare, few.Out, nil); err == nil || !strings.Contains(err.Error(), "another folder with --out") {
		t.Errorf("scored by a list into the folder of the states: %v", err)
	}
}
