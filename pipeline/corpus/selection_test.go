package corpus

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
)

// writeFiles writes files below a new folder.
func writeFiles(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, content := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// children has five recordings of three people; 7 and 30 are one, and called 7.
func children(t *testing.T) config.Input {
	return config.Input{Layout: "circor", Data: writeFiles(t, map[string]string{
		"training_data.csv":      "Patient ID,Additional ID\n7,30\n30,7\n8,nan\n9,nan\n",
		"training_data/7_AV.wav": "", "training_data/7_PV.wav": "", "training_data/30_AV.wav": "",
		"training_data/8_AV.wav": "", "training_data/9_AV.wav": "",
	})}
}

// own has two recordings, one of an unknown person and one whose name begins like a
// comment.
func own(t *testing.T) config.Input {
	return config.Input{Layout: "plain", Data: writeFiles(t, map[string]string{
		"recordings.csv": "recording,person\n#a,7\nb,\n", "#a.wav": "", "b.wav": "",
	})}
}

// opened returns the ids that lists select, and the corpus.
func opened(t *testing.T, inputs []config.Input, people, recordings string) (ids []string, c *Corpus, err error) {
	t.Helper()
	o, dir := Options{}, t.TempDir()
	for name, text := range map[string]string{"people.txt": people, "recordings.txt": recordings} {
		if text == "" {
			continue
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if name == "people.txt" {
			o.People = path
		} else {
			o.Recordings = path
		}
	}
	c, err = Open(inputs, o)
	if err != nil {
		return nil, nil, err
	}
	t.Cleanup(c.Close)
	for i := range c.Entries {
		e := &c.Entries[i]
		ids = append(ids, e.ID)
	}
	return ids, c, nil
}

func TestLists(t *testing.T) {
	one, two := []config.Input{children(t)}, []config.Input{children(t), own(t)}
	for _, tt := range []struct {
		inputs             []config.Input
		people, recordings string
		want               string
		selected           string
	}{
		{one, "", "", "30_AV 7_AV 7_PV 8_AV 9_AV", ""},
		{one, "# those\n8\n\n9\n", "", "8_AV 9_AV", "2 of 5 recordings selected: people of the list people"},
		{one, "7\n", "", "30_AV 7_AV 7_PV", "3 of 5"},
		{one, "30\n", "", "30_AV 7_AV 7_PV", "3 of 5"}, // the other id of the person
		{one, "circor/30\n7\n", "", "30_AV 7_AV 7_PV", "3 of 5"},
		{one, "!30\n", "", "8_AV 9_AV", "2 of 5"},
		{one, "8\n9\n!7\n", "", "8_AV 9_AV", "2 of 5"},
		{one, "", "7_PV\n8_AV\n", "7_PV 8_AV", "2 of 5 recordings selected: recordings of the list recordings"},
		{one, "7\n", "!7_PV\n!9_AV\n", "30_AV 7_AV", "2 of 5"},
		{one, "7\n9\n", "7_PV\n8_AV\n", "7_PV", "1 of 5"},
		{two, "circor/8\nplain/7\n", "", "circor/8_AV plain/#a", "2 of 7"},
		{two, "", "!circor/30_AV\n!plain/b\n", "circor/7_AV circor/7_PV circor/8_AV circor/9_AV plain/#a", "5 of 7"},
		{two[1:], "", "plain/#a\n", "#a", "1 of 2"},
		{two[1:], "b\n", "", "b", "1 of 2"}, // a person without a name
	} {
		ids, c, err := opened(t, tt.inputs, tt.people, tt.recordings)
		if err != nil || strings.Join(ids, " ") != tt.want {
			t.Errorf("people %q, recordings %q: %v, %v, want %s", tt.people, tt.recordings, ids, err, tt.want)
			continue
		}
		if tt.selected == "" && len(c.Selection) > 0 || !strings.HasPrefix(rundir.Selected(c.DataSets, c.Selection), tt.selected) {
			t.Errorf("people %q, recordings %q: %s, want %s", tt.people, tt.recordings, rundir.Selected(c.DataSets, c.Selection), tt.selected)
		}
		listed := 0
		for _, d := range c.DataSets {
			listed += d.Recordings
		}
		if listed != len(ids) {
			t.Errorf("people %q, recordings %q: the data sets count %d recordings, want %d", tt.people, tt.recordings, listed, len(ids))
		}
	}
}

// The digest tells lists apart by what they select, and not by order, comments or
// the id by which a person is named.
func TestListDigests(t *testing.T) {
	inputs := []config.Input{children(t)}
	digest := func(people string) string {
		_, c, err := opened(t, inputs, people, "")
		if err != nil {
			t.Fatal(err)
		}
		return c.Selection[0].Digest
	}
	same := digest("8\n7\n")
	for _, people := range []string{"# a comment\n\n7\n8\n", "circor/8\n30\n", "30\n7\n8"} {
		if digest(people) != same {
			t.Errorf("%q has another digest", people)
		}
	}
	for _, people := range []string{"8\n9\n", "!9\n", "8\n"} {
		if digest(people) == same {
			t.Errorf("%q has the same digest", people)
		}
	}
}

func TestListsThatAreWrong(t *testing.T) {
	one, two := []config.Input{children(t)}, []config.Input{children(t), own(t)}
	for _, tt := range []struct {
		inputs             []config.Input
		people, recordings string
		want               []string
	}{
		{one, "8\n\n80\n81\n", "", []string{"people.txt:3: the data have no person \"80\", nor 1 more", "there are 8 and others", "scan --list people"}},
		{one, "!80\n", "", []string{"people.txt:1: the data have no person \"80\""}},
		{one, "8_AV\n", "", []string{"people.txt:1", "but a recording of this name", "--recordings"}},
		{one, "", "8\n", []string{"recordings.txt:1", "but a person of this name", "--people"}},
		{one, "8 # a girl\n", "", []string{"people.txt:1", "an id stands alone in its line"}},
		{one, "7\n!30\n", "", []string{"people.txt:2: 30 is named and excluded, in line 1 under another id"}},
		{one, "!7\n!8\n!9\n", "", []string{"people.txt", "none of the 5 recordings of circor is selected", "leave --people out"}},
		{one, "7\n", "8_AV\n", []string{"people.txt and ", "recordings.txt", "none of the 5 recordings"}},
		{two, "8\n", "", []string{"no person \"8\"", "there are circor/7, circor/8, circor/9, plain/7, plain/b and others"}},
		{two, "circor/8\n", "", []string{"none of the 2 recordings of plain is selected", "leave the data set out"}},
		{one, "plain/7\n", "", []string{"no person \"plain/7\""}},
	} {
		_, _, err := opened(t, tt.inputs, tt.people, tt.recordings)
		for _, want := range tt.want {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("people %q, recordings %q: %v, want %q", tt.people, tt.recordings, err, want)
			}
		}
	}
}

// Folds are those of the selected people alone, whoever else the data set has.
func TestFoldsOfSelectedPeople(t *testing.T) {
	part, all := t.TempDir(), t.TempDir()
	for i, id := range []string{"1", "2", "3", "4", "5", "6", "7", "8"} {
		for _, dir := range []string{part, all} {
			if dir == part && i%2 == 1 {
				continue
			}
			if err := os.WriteFile(filepath.Join(dir, id+".wav"), nil, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	folds := func(dir, people string) (of []int32) {
		_, c, err := opened(t, []config.Input{{Data: dir, Layout: "plain"}}, people, "")
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AssignFolds(3, 1, true); err != nil {
			t.Fatal(err)
		}
		for i := range c.Entries {
			of = append(of, *c.Entries[i].Fold())
		}
		return of
	}
	if got, want := folds(all, "1\n3\n5\n7\n"), folds(part, ""); !slices.Equal(got, want) {
		t.Errorf("folds %v, want %v", got, want)
	}
}

// The names that are printed can be given back as a list.
func TestWriteNames(t *testing.T) {
	inputs := []config.Input{own(t)}
	for of, want := range map[string]string{"people": "7\nb\n", "recordings": "plain/#a\nb\n"} {
		_, c, err := opened(t, inputs, "", "")
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		if err := c.WriteNames(&text, of); err != nil || text.String() != want {
			t.Errorf("%s: %q, %v, want %q", of, text.String(), err, want)
		}
		people, recordings := text.String(), ""
		if of == "recordings" {
			people, recordings = recordings, people
		}
		if ids, _, err := opened(t, inputs, people, recordings); err != nil || len(ids) != 2 {
			t.Errorf("%s given back: %v, %v", of, ids, err)
		}
	}
	_, c, err := opened(t, inputs, "", "")
	if err == nil {
		err = c.WriteNames(&strings.Builder{}, "sites")
	}
	if err == nil || !strings.Contains(err.Error(), "want people or recordings") {
		t.Errorf("names of sites: %v", err)
	}
}
