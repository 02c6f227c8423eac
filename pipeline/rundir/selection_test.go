package rundir

import (
	"strings"
	"testing"
)

// A run that goes on with another list is told what the list was, not that its data
// have changed.
func TestPlanNamesTheListThatDiffers(t *testing.T) {
	people := func(name, digest string) []Selection { return []Selection{{"people", name, digest}} }
	files := []Selection{{"recordings", "files", "0123456789abcdef"}}
	for _, tt := range []struct {
		was, is []Selection
		want    string
	}{
		{people("train", "aaa"), people("test", "bbb"), "the people were those of the list train (digest aaa) and are now those of the list test (digest bbb)"},
		{people("train", "aaa"), people("train", "bbb"), "list train (digest aaa) and are now those of the list train (digest bbb)"},
		{people("train", "aaa"), nil, "the people were those of the list train (digest aaa), and now no list is given with --people"},
		{nil, files, "no list of recordings was given, and now --recordings gives the list files (digest 0123456789ab)"},
		{people("train", "aaa"), append(people("train", "aaa"), files...), "no list of recordings was given"},
	} {
		was, is := samplePlan(t), samplePlan(t)
		was.Selection, is.Selection = tt.was, tt.is
		is.DataSets = []DataSet{{Name: "village", Recordings: 70, Listed: 130, LayoutDigest: "l", ListDigest: "other"}}
		for _, p := range []*Plan{&was, &is} {
			if err := p.Seal(); err != nil {
				t.Fatal(err)
			}
		}
		dir := t.TempDir()
		if err := was.WriteOrVerify(dir, false); err != nil {
			t.Fatal(err)
		}
		for what, err := range map[string]error{"resume": is.WriteOrVerify(dir, true), "merge": was.CheckData(is.DataSets, is.Selection)} {
			if err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "data have changed") {
				t.Errorf("%s: %v, want %q", what, err, tt.want)
			}
		}
	}
}

func TestSelected(t *testing.T) {
	p := Plan{DataSets: []DataSet{{Recordings: 3, Listed: 10}, {Recordings: 4, Listed: 4}}}
	if p.Selected() != "" {
		t.Errorf("without lists: %q", p.Selected())
	}
	p.Selection = []Selection{{"people", "train", "0123456789abcdef"}, {"recordings", "quiet", "f"}}
	if got, want := p.Selected(), "7 of 14 recordings selected: people of the list train (digest 0123456789ab), recordings of the list quiet (digest f)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
