package pipeline

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/source"
)

// People whom predictions declare to have learnt from are refused, left out, or scored
// with a warning, as those of a model are; and each row of the recordings says so.
func TestDeclaredTrainingData(t *testing.T) {
	c := crowd(t, 20) // four of each person
	made := segmented(t, c.Inputs[0], "shannon-peaks", nil)
	var people []string
	for _, row := range recordingsOf(t, made) {
		people = append(people, row.Person)
	}
	people = slices.Compact(people)
	dir := t.TempDir()
	writeText(t, filepath.Join(dir, "two.txt"), people[0]+"\n"+people[1]+"\n")
	for i, tt := range []struct {
		fittedOn string
		known    int // the first of the people
		folds    []int32
	}{
		{"two.txt", 2, nil},
		{"[" + people[0] + ", nobody-here]", 1, nil},
		{"[nobody-here]", 0, nil},
		{"{folds: [[" + strings.Join(people[:3], ", ") + "], [" + people[0] + ", " + strings.Join(people[3:], ", ") + "]]}", 1, []int32{-1, 1, 1, 0, 0}},
	} {
		if i == 0 { // read as --people reads lists
			writeText(t, filepath.Join(dir, "bad.txt"), people[0]+"\n!"+people[1]+"\n")
			of := source.Predictions{Path: made, Format: writeText(t, filepath.Join(dir, "f.yaml"), "fitted-on: bad.txt\n")}
			if _, err := ScorePredictions(context.Background(), elsewhere(t, c), of, nil); err == nil || !strings.Contains(err.Error(), "bad.txt:2: !") {
				t.Errorf("a list that excludes: %v", err)
			}
		}
		of := source.Predictions{Path: made, Format: writeText(t, filepath.Join(dir, "f.yaml"), "fitted-on: "+tt.fittedOn+"\n")}
		for _, overlap := range []config.Overlap{config.RefuseOverlap, config.LeaveOutOverlap, config.ScoreOverlap} {
			c := elsewhere(t, c)
			c.Overlap, c.Folds = overlap, 0
			r, err := ScorePredictions(context.Background(), c, of, nil)
			if overlap == config.RefuseOverlap && tt.known > 0 {
				if err == nil || !strings.Contains(err.Error(), "first "+people[0]+":") {
					t.Errorf("%d: people of the training data: %v", i, err)
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			p := &r.Summary.Provenance
			leftOut, trained := tt.known, 0
			if overlap == config.ScoreOverlap {
				leftOut, trained = 0, tt.known
			}
			if p.LeftOut != leftOut || p.Trained != trained || r.Summary.Counts.People != len(people)-leftOut {
				t.Errorf("%d, %s: %d left out, %d of the training data scored, %d scored in all", i, overlap, p.LeftOut, p.Trained, r.Summary.Counts.People)
			}
			if warned := len(r.Summary.Warnings) > 0 && strings.Contains(r.Summary.Warnings[0], "says nothing about others"); warned != (trained > 0) {
				t.Errorf("%d, %s: warnings %q", i, overlap, r.Summary.Warnings)
			}
			for _, row := range recordingsOf(t, c.Out) {
				k := slices.Index(people, row.Person)
				if row.PersonInTrainingData == nil || *row.PersonInTrainingData != (k < tt.known) {
					t.Errorf("%d, %s: person %s in the training data: %v", i, overlap, row.Person, row.PersonInTrainingData)
				}
				if want := foldOf(tt.folds, k); (row.Fold == nil) != (want < 0) || row.Fold != nil && *row.Fold != want {
					t.Errorf("%d, %s: person %s is in fold %v, want %d", i, overlap, row.Person, row.Fold, want)
				}
			}
		}
	}
}

// foldOf returns the fold of a person, −1 for none.
func foldOf(folds []int32, person int) int32 {
	if folds == nil {
		return -1
	}
	return folds[person]
}

// The folds of a cross-validation are those of its table, whatever folds the data
// would get now. Those of other recordings, or of none, are refused.
func TestFoldsFrom(t *testing.T) {
	c := crowd(t, 12) // of three people
	c.Folds, c.FoldSeed = 3, 8
	crossval(t, c)
	want := recordingsOf(t, c.Out)
	scored := elsewhere(t, c)
	scored.Folds, scored.FoldSeed = 10, 1 // as the command line has them by default
	r, err := ScorePredictions(context.Background(), scored, source.Predictions{Path: c.Out, FoldsFrom: c.Out}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p := &r.Summary.Provenance; p.Folds != 3 || p.FoldSeed != 8 || p.FoldsFrom != "out" || p.LeftOut != 0 {
		t.Errorf("provenance %+v", p)
	}
	for i, row := range recordingsOf(t, scored.Out) {
		if row.Fold == nil || *row.Fold != *want[i].Fold || row.PersonInTrainingData == nil || *row.PersonInTrainingData {
			t.Errorf("recording %s: fold %v, want %v; in the training data %v", row.Recording, row.Fold, *want[i].Fold, row.PersonInTrainingData)
		}
	}
	fewer, withoutFolds := crowd(t, 8), crowd(t, 12)
	withoutFolds.Folds, fewer.Folds = 0, 2
	run(t, withoutFolds)
	run(t, fewer)
	format := writeText(t, filepath.Join(t.TempDir(), "f.yaml"), "fitted-on: []\n")
	for _, tt := range []struct {
		of   source.Predictions
		want string
	}{
		{source.Predictions{FoldsFrom: fewer.Out}, "has no recording"},
		{source.Predictions{FoldsFrom: withoutFolds.Out}, "has no fold"},
		{source.Predictions{FoldsFrom: t.TempDir()}, "folds: "},
		{source.Predictions{FoldsFrom: c.Out, Format: format}, "leave one of them out"},
	} {
		tt.of.Path = c.Out
		if _, err := ScorePredictions(context.Background(), elsewhere(t, scored), tt.of, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v, want %q", tt.of, err, tt.want)
		}
	}
}
