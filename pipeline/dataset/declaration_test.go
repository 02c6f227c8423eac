package dataset

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A format may declare the people that a program learnt from, in one list or one for
// each fold.
func TestDeclaredTraining(t *testing.T) {
	people := func(ids ...string) TrainingList { return TrainingList{People: append([]string{}, ids...)} }
	named := func(list string) TrainingList { return TrainingList{People: []string{}, List: list} }
	for _, tt := range []struct {
		yaml  string
		want  []TrainingList
		folds bool
		err   string
	}{
		{yaml: "{}"},
		{yaml: "fitted-on:"},
		{yaml: "fitted-on: [p1, 0012, 3.50, 'a b']", want: []TrainingList{people("p1", "0012", "3.50", "a b")}},
		{yaml: "fitted-on: []", want: []TrainingList{people()}},
		{yaml: "fitted-on: theirs.txt", want: []TrainingList{named("theirs.txt")}},
		{yaml: "fitted-on:\n  folds: [[p1], fold2.txt, []]", want: []TrainingList{people("p1"), named("fold2.txt"), people()}, folds: true},
		{yaml: "fitted-on:\n  folds: [[p1]]", err: "f.yaml:2:3: fitted-on: folds needs a list for each fold"},
		{yaml: "fitted-on:\n  fold: [[p1]]", err: "did you mean \"folds\""},
		{yaml: "fitted-on: [[p1]]", err: "f.yaml:1:12: fitted-on"},
		{yaml: "fitted-on: ''", err: "the ids of people as a list"},
	} {
		f, err := LoadFormat(plant(t, map[string]string{"f.yaml": tt.yaml}) + "/f.yaml")
		if tt.err != "" {
			if err == nil || !strings.Contains(err.Error(), tt.err) {
				t.Errorf("%q: error %v, want %q", tt.yaml, err, tt.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q: %v", tt.yaml, err)
			continue
		}
		if diff := cmp.Diff(tt.want, f.Training); diff != "" || f.DeclaresFolds != tt.folds || f.DescribesText() {
			t.Errorf("%q: folds %v, text %v, %s", tt.yaml, f.DeclaresFolds, f.DescribesText(), diff)
		}
	}
	if f := (&Format{Rate: 4000}); !f.DescribesText() {
		t.Error("a rate describes text")
	}
}
