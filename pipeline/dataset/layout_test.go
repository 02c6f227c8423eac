package dataset

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestEmbeddedLayouts(t *testing.T) {
	names := LayoutNames()
	for _, want := range []string{"circor", "pascal", "cinc2016", "plain"} {
		if !slices.Contains(names, want) {
			t.Errorf("no layout %s among %v", want, names)
		}
	}
	for _, name := range names {
		l, err := LoadLayout(name)
		if err != nil {
			t.Error(err)
			continue
		}
		if l.Name != name || len(l.Text) == 0 {
			t.Errorf("layout %s calls itself %q", name, l.Name)
		}
	}
}

// minimal is the shortest layout with everything in it.
const minimal = `name: trial
title: Trial
version: "1"
citation: none
licence: none
source: none
audio:
  include: ["*.wav"]
recording:
  patterns: ['(?P<id>(?P<person>\w+)_(?P<site>\w+))\.wav']
tables:
  - path: people.csv
    header: present
    key: name
    match: "{person}"
    labels:
      - {column: age, name: age}
references:
  - name: states
    kind: intervals
    paths: ["{id}.tsv"]
    header: absent
    columns: {start: 1, end: 2, state: 3}
    unit: seconds
    states: {1: S1, 2: systole, 3: S2, 4: diastole}
`

// A citation is made of publications; a layout needs the one or the other.
func TestCitationOfPublications(t *testing.T) {
	l, err := LoadLayout("circor")
	want := "Oliveira J, Renna F, Costa PD, et al. The CirCor DigiScope dataset: from murmur detection to murmur classification. IEEE J Biomed Health Inform 2022;26(6):2524-2535. " +
		"doi:10.1109/JBHI.2021.3137048. And: Goldberger AL, Amaral LAN, Glass L, et al. PhysioBank, PhysioToolkit, and PhysioNet. Circulation 2000;101(23):e215-e220. doi:10.1161/01.CIR.101.23.e215."
	if err != nil || l.Citation != want || len(l.Publications) != 2 {
		t.Errorf("%v: %s", err, l.Citation)
	}
	for given, want := range map[string]string{
		"": "trial.yaml:1:1: citation: missing", "publications: [{title: T}]\n": "trial.yaml:4:17: publications[0]: a publication needs at least title and year",
		"publications: [{title: T, yaer: 1}]\n": `unknown key "yaer"`,
	} {
		_, err := ParseLayout("trial.yaml", []byte(strings.Replace(minimal, "citation: none\n", given, 1)))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", given, err, want)
		}
	}
}

func TestParseLayoutNamesThePlace(t *testing.T) {
	if _, err := ParseLayout("trial.yaml", []byte(minimal)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{"title:", "titel:", `trial.yaml:2:1: unknown key "titel": did you mean "title"?`},
		{"unit: seconds", "unit: seconds\n    path_of_it: x", `trial.yaml:25:5: unknown key "path_of_it": there are name, kind, paths, optional, variable, delimiter,`},
		{"column: age, name", "colum: age, name", `trial.yaml:17:10: unknown key "colum": did you mean "column"?`},
		{"title: Trial\n", "title: Trial\ntitle: Again\n", `trial.yaml:3:1: the key "title" stands twice, first in line 2`},
		{`(?P<site>`, `(?P<sites>`, `trial.yaml:10:14: recording.patterns[0]: nothing uses the group "sites". Did you mean "site"? The groups id, person, site, take`},
		{`(?P<site>`, `(?P<patient>`, `recording.patterns[0]: nothing uses the group "patient". The groups id, person, site, take describe a recording`},
		{"title: Trial\n", "", `trial.yaml:1:1: title: missing`},
		{"name: trial", "name: Tri al", `trial.yaml:1:7: name: "Tri al": use lower-case`},
		{"kind: intervals", "kind: interval", `trial.yaml:20:11: references[0].kind: "interval": want ecg, intervals, points or starts`},
		{"unit: seconds", "unit: ms", `trial.yaml:24:11: references[0].unit: "ms": want seconds or samples`},
		{"unit: seconds", "unit: seconds\n    base: 1", `trial.yaml:25:11: references[0].base: 1: `},
		{"unit: seconds", "unit: samples\n    base: 2", `trial.yaml:25:11: references[0].base: 2: `},
		{"unit: seconds", "unit: samples\n    base: one", `trial.yaml:25:11: references[0].base: "one": want a whole number`},
		{"title: Trial", "title: [Trial]", `trial.yaml:2:8: title: a list: want text`},
		{"include: [\"*.wav\"]", "include: '*.wav'", `trial.yaml:8:12: audio.include: "*.wav": want a list`},
		{"2: systole", "2: systoly", `trial.yaml:25:24: references[0].states.2: unknown state "systoly"`},
		{"end: 2,", "end: two,", `trial.yaml:23:30: references[0].columns.end: "two": a table without header`},
		{"end: 2,", "end: 0,", `trial.yaml:23:30: references[0].columns.end: "0": a table without header`},
		{"end: 2,", "", `trial.yaml:23:`},
		{`"{id}.tsv"`, `"../{id}.tsv"`, `trial.yaml:21:13: references[0].paths[0]: "../{id}.tsv" leads out of the data root`},
		{`"{id}.tsv"`, `"/etc/passwd"`, `trial.yaml:21:13: references[0].paths[0]: "/etc/passwd" leads out of the data root`},
		{`path: people.csv`, `path: a/../../people.csv`, `trial.yaml:12:11: tables[0].path: "a/../../people.csv" leads out of the data root`},
		{`["*.wav"]`, `["../*.wav"]`, `trial.yaml:8:13: audio.include[0]: "../*.wav" leads out of the data root`},
		{`["*.wav"]`, `["[.wav"]`, `trial.yaml:8:13: audio.include[0]: "[.wav": a [ without its ]`},
		{`include: ["*.wav"]`, `exclude: []`, `trial.yaml:8:3: audio.include: missing`},
		{`\.wav']`, `\.wav(']`, `trial.yaml:10:14: recording.patterns[0]: "(?P<id>(?P<person>\\w+)_(?P<site>\\w+))\\.wav(" is no regular expression: missing closing )`},
		{`(?P<site>`, `(?P<dir>`, `trial.yaml:10:14: recording.patterns[0]: the group name "dir" is reserved`},
		{`"{person}"`, `"{persons}"`, `trial.yaml:15:12: tables[0].match: "{persons}": no pattern has a group "persons"`},
		{"header: present", "header: yes", `trial.yaml:13:13: tables[0].header: "yes": want present or absent`},
		{"name: age}", "name: age, type: integer}", `tables[0].labels[0].type: "integer": want text, number or any`},
		{"    key: name\n", "", `tables[0].key: missing`},
		{"    key: name\n", "    key: name\n    key_pattern: '(.*)'\n", `tables[0].key_pattern: has no group (?P<key>...)`},
		{"unit: seconds", "unit: seconds\n    key: 4\n    match: \"{id}\"", `references[0].paths: a reference with a key column is one table`},
		{`"{id}.tsv"`, `"{id}.tsv", "{id}.MAT"`, `trial.yaml:19:5: references[0].variable: missing: which variable of the MATLAB files holds the rows?`},
		{`paths: ["{id}.tsv"]`, "paths: [all.mat]\n    variable: x\n    key: 4\n    match: \"{id}\"", `trial.yaml:21:13: references[0].paths[0]: a table of all recordings is text`},
		{"unit: seconds", "unit: seconds\n    variable: x", `trial.yaml:25:15: references[0].variable: "x": no path ends in .mat`},
		{"references:\n  - name: states\n    kind", "reference:\n    kind", `trial.yaml:19:5: reference: a layout lists its references, the default first: write "references:", below it "  - name: states"`},
		{"name: states", "name: State S", `trial.yaml:19:11: references[0].name: "State S": use lower-case letters`},
		{"  - name: states", "  -", `trial.yaml:20:5: references[0].name: "": use lower-case letters`},
		{"4: diastole}", "4: diastole}\n  - {name: states, kind: points, paths: [p.csv], header: absent, columns: {time: 1, state: 2}, unit: seconds, states: {1: S1}}",
			`trial.yaml:26:12: references[1].name: "states": another reference has this name`},
		{"title: Trial", "title: &a Trial", `trial.yaml:2:8: anchors, aliases and tags are not allowed`},
		{"title: Trial", "title: [Trial", `trial.yaml:`},
		{"title: Trial", "title: " + strings.Repeat("[", 40), `trial.yaml:2: nested deeper than 16 levels`},
		{"title: Trial", "title: \xff", `trial.yaml: not UTF-8`},
		{"references:", "---\nreferences:", `trial.yaml: holds 2 documents`},
	} {
		if !strings.Contains(minimal, c.old) {
			t.Fatalf("%q is not in the layout", c.old)
		}
		_, err := ParseLayout("trial.yaml", []byte(strings.Replace(minimal, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q for %q:\n got %v\nwant %s", c.new, c.old, err, c.want)
		}
	}
	for text, want := range map[string]string{
		"":                                      "holds 0 documents",
		"# nothing":                             "holds 0 documents",
		"- a list":                              "trial.yaml:1:",
		strings.Repeat("# long\n", 10<<10):      "longer than 64 KiB",
		strings.Repeat("- ", 40) + "deep":       "nested deeper",
		"a: *nowhere":                           "trial.yaml:1:",
		"? " + strings.Repeat("? ", 40) + "key": "nested deeper",
	} {
		if _, err := ParseLayout("trial.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: %v, want %q", text, err, want)
		}
	}
}

// All errors of a layout come at once, each with its line, and none that follows
// from another.
func TestAllErrorsOfALayout(t *testing.T) {
	bad := minimal
	for _, c := range [][2]string{
		{"title:", "titel:"}, {"licence: none\n", ""}, {`["*.wav"]`, "'*.wav'"}, {"(?P<site>", "(?P<patient>"}, {"header: present", "header: yes"},
		{"{column: age, name: age}", "{colum: age, name: age}"}, {"unit: seconds", "unit: ms"}, {"2: systole", "2: systoly"}, {"4: diastole", "4: [diastole]"},
	} {
		if !strings.Contains(bad, c[0]) {
			t.Fatalf("%q is not in the layout", c[0])
		}
		bad = strings.Replace(bad, c[0], c[1], 1)
	}
	_, err := ParseLayout("trial.yaml", []byte(bad))
	const want = `trial.yaml:1:1: licence: missing: every layout says what its data set is (write "not stated" if it is not)
trial.yaml:2:1: unknown key "titel": did you mean "title"?
trial.yaml:7:12: audio.include: "*.wav": want a list
trial.yaml:12:13: tables[0].header: "yes": want present or absent
trial.yaml:16:10: unknown key "colum": did you mean "column"?
trial.yaml:23:11: references[0].unit: "ms": want seconds or samples
trial.yaml:24:24: references[0].states.2: unknown state "systoly": want one of unannotated, S1, systole, S2, diastole
trial.yaml:24:43: references[0].states.4: a list: want text`
	if diff := cmp.Diff(want, fmt.Sprint(err)); diff != "" {
		t.Error(diff)
	}
	// What may follow from a wrong value waits until that is right.
	_, err = ParseLayout("trial.yaml", []byte(strings.Replace(minimal, "(?P<site>", "(?P<patient>", 1)+"stratify: [height]\n"))
	if got := strings.Split(fmt.Sprint(err), "\n"); len(got) != 2 || !strings.Contains(got[0], `"patient"`) || !strings.Contains(got[1], `"height" is no label`) {
		t.Errorf("%q", got)
	}
}

// An error that has nothing to do with the names of a pattern does not hide those
// that nothing uses.
func TestUnusedGroupsBesideAnotherError(t *testing.T) {
	text := strings.NewReplacer("licence:", "lizence:", "(?P<site>", "(?P<patient>(?P<whose>)").Replace(minimal)
	_, err := ParseLayout("trial.yaml", []byte(text))
	if got := strings.Split(fmt.Sprint(err), "\n"); len(got) != 2 || !strings.Contains(got[0], `did you mean "licence"?`) ||
		!strings.Contains(got[1], `nothing uses the group "patient", "whose".`) {
		t.Errorf("%q", got)
	}
}

func TestLoadLayout(t *testing.T) {
	if _, err := LoadLayout("cicor"); err == nil || !strings.Contains(err.Error(), `did you mean "circor"?`) {
		t.Errorf("misspelt name: %v", err)
	}
	if _, err := LoadLayout("nothing.yaml"); err == nil || !strings.Contains(err.Error(), "layout nothing.yaml: ") {
		t.Errorf("absent file: %v", err)
	}
	file := filepath.Join(t.TempDir(), "mine.yml")
	if err := os.WriteFile(file, []byte(minimal), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := LoadLayout(file)
	if err != nil || l.Name != "trial" {
		t.Fatalf("layout file: %v, %v", l, err)
	}
	if diff := cmp.Diff(minimal, string(l.Text)); diff != "" {
		t.Error(diff)
	}
}

func FuzzLayout(f *testing.F) {
	f.Add([]byte(minimal))
	for _, name := range LayoutNames() {
		l, err := LoadLayout(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(l.Text)
	}
	f.Add([]byte("a: &b [*b]\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := ParseLayout("fuzz.yaml", text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "fuzz.yaml") {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		paths := slices.Clone(l.Audio.Include)
		for i := range l.References {
			paths = append(paths, l.References[i].Paths...)
		}
		for i, p := range paths {
			if slices.Contains(strings.Split(p, "/"), "..") {
				t.Error(fmt.Sprint("path ", i, " leads out: ", p))
			}
		}
	})
}

func TestRecordingLabels(t *testing.T) {
	for _, c := range []struct {
		layout, label string
		want          bool
	}{
		{"circor", "murmur", false}, {"plain", "label", true}, {"cinc2016", "part", true}, {"pascal", "sublabel", true}, {"circor", "nothing", false},
	} {
		l, err := LoadLayout(c.layout)
		if err != nil {
			t.Fatal(err)
		}
		if got := l.IsRecordingLabel(c.label); got != c.want {
			t.Errorf("%s of %s: %v", c.label, c.layout, got)
		}
	}
}
