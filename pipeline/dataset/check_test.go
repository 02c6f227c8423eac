package dataset

import (
	"strings"
	"testing"
)

// keyed is a reference in one table, for all recordings.
const keyed = `references:
  - name: beats
    kind: points
    paths: [beats.csv]
    key: file
    key_pattern: '(?P<key>\w+)\.wav'
    match: "{id}"
    header: present
    columns: {time: at, state: what}
    unit: samples
    states: {a: S1, b: S2}
`

// Each rule of a layout is refused where it cannot be followed, and taken where it
// can.
func TestRulesOfALayout(t *testing.T) {
	base := minimal[:strings.Index(minimal, "references:")]
	bare := strings.Replace(base, "    labels:\n      - {column: age, name: age}\n", "", 1)
	rules := map[string]string{"states": minimal, "keyed": base + keyed, "none": base, "bare": bare}
	for _, tt := range []struct{ layout, old, new, want string }{
		{"states", "", "", ""}, {"keyed", "", "", ""}, {"none", "", "", ""},
		{"states", "unit: seconds", "unit: samples\n    base: 1", ""},
		{"states", "unit: seconds", "unit: samples\n    base: 0", ""},
		{"states", "unit: seconds", "unit: seconds\n    base: 0", ""},
		{"states", "unit: seconds", "unit: seconds\n    delimiter: semicolon", ""},
		{"states", "unit: seconds", "unit: seconds\n    delimiter: bar", `references[0].delimiter: "bar": want `},
		{"states", "unit: seconds", "unit: seconds\n    match: \"{id}\"", "references[0].key: missing: which column names the recording?"},
		{"states", "unit: seconds", "unit: seconds\n    key_pattern: '(?P<key>x)'", "references[0].key: missing: which column names the recording?"},
		{"states", "states: {1: S1, 2: systole, 3: S2, 4: diastole}", "states: {}", "references[0].states: missing: which code stands for which state?"},
		{"states", "states: {1: S1, 2: systole, 3: S2, 4: diastole}", "states: {x: S1, X: S1}", ""},
		{"states", "states: {1: S1, 2: systole, 3: S2, 4: diastole}", "states: {X: S1, x: S2}", "references[0].states.x: stands for S1 in another spelling"},
		{"states", "end: 2,", "", "references[0].columns.end: missing: a reference of kind intervals needs it"},
		{"states", "end: 2,", "end: 1024,", ""},
		{"states", "end: 2,", "end: 1025,", `references[0].columns.end: "1025": a table without header has columns 1, 2, and so on`},
		{"states", "header: absent\n", "header: optional\n", ""},
		{"states", "header: absent\n", "header: maybe\n", `references[0].header: "maybe": want present, absent or optional`},
		{"states", `paths: ["{id}.tsv"]`, "paths: []", "references[0].paths: missing: where is the reference"},
		{"states", `paths: ["{id}.tsv"]`, `paths: ["{id.tsv"]`, "a brace without its partner"},
		{"states", "name: states", "name: -states", `references[0].name: "-states": use lower-case`},
		{"keyed", "paths: [beats.csv]", "paths: [beats.csv, more.csv]", "references[0].paths: a reference with a key column is one table: want one path without {}"},
		{"keyed", "paths: [beats.csv]", `paths: ["{id}.csv"]`, "references[0].paths: a reference with a key column is one table"},
		{"keyed", "header: present\n    columns: {time", "header: optional\n    columns: {time", "references[0].header: a reference with a key column: want present or absent"},
		{"keyed", "header: present\n    columns: {time: at, state: what}", "header: absent\n    columns: {time: 1, state: 2}", `references[0].key: "file": a table without header`},
		{"keyed", "    match: \"{id}\"\n    header: present\n    columns: {time", "    header: present\n    columns: {time", "references[0].match: missing: what is the key joined to?"},
		{"keyed", "match: \"{id}\"", "match: \"{ids}\"", `references[0].match: "{ids}": no pattern has a group "ids": did you mean "id"?`},
		{"keyed", "match: \"{id}\"", "match: \"{zebra}\"", `no pattern has a group "zebra": there are dir, id, path, person, site, stem, take`},
		{"keyed", `(?P<key>\w+)`, `(?P<kex>\w+)`, "references[0].key_pattern: has no group (?P<key>...)"},
		{"keyed", `(?P<key>\w+)`, `(?P<key>\w+`, "references[0].key_pattern: "},
		{"keyed", "b: S2", "b: systole", "references[0].states.b: a point marks S1 or S2, not systole"},
		{"keyed", "time: at, ", "", "references[0].columns.time: missing: a reference of kind points needs it"},
		{"none", "path: people.csv", "path: people.csv\n    only: '[x'", `tables[0].only: "[x": a [ without its ]`},
		{"none", "path: people.csv", "path: people.csv\n    only: '*.csv'", ""},
		{"none", "path: people.csv", "path: people.csv\n    delimiter: bar", `tables[0].delimiter: "bar"`},
		{"none", "    match: \"{person}\"\n", "", "tables[0].match: missing"},
		{"bare", "header: present", "header: absent", `tables[0].key: "name": a table without header`},
		{"bare", "header: present\n    key: name", "header: absent\n    key: 1\n    person: x", `tables[0].person: "x": a table without header`},
		{"bare", "header: present\n    key: name", "header: absent\n    key: 1\n    site: x", `tables[0].site: "x": a table without header`},
		{"bare", "header: present\n    key: name", "header: absent\n    key: 1\n    take: x", `tables[0].take: "x": a table without header`},
		{"bare", "header: present\n    key: name", "header: absent\n    key: 1\n    same_person: x", `tables[0].same_person: "x": a table without header`},
		{"none", "header: present\n    key: name", "header: absent\n    key: 1", `tables[0].labels[0].column: "age": a table without header`},
		{"none", "{column: age, name: age}", "{column: age}", "tables[0].labels[0].name: missing: the label needs a name"},
		{"none", "{column: age, name: age}", "{name: age}", `tables[0].labels[0].column: missing: which column is label "age"?`},
		{"none", "{column: age, name: age}", "{column: age, name: age, type: number}", ""},
		{"none", "source: none\n", "source: none\nstratify: [age]\n", ""},
		{"none", "source: none\n", "source: none\nstratify: [height]\n", `stratify[0]: "height" is no label of this layout: it has age`},
		{"none", "source: none\n", "source: ' '\n", "source: missing: every layout says what its data set is"},
		{"none", `include: ["*.wav"]`, `include: []`, "audio.include: missing"},
		{"none", `include: ["*.wav"]`, "include: [\"*.wav\"]\n  exclude: [{path: 'x.wav', reason: copy}]", ""},
		{"none", `include: ["*.wav"]`, "include: [\"*.wav\"]\n  exclude: [{path: 'x.wav'}]", "audio.exclude[0].reason: missing: say why these files are left out"},
		{"none", `include: ["*.wav"]`, "include: [\"*.wav\"]\n  exclude: [{path: '[x', reason: copy}]", `audio.exclude[0].path: "[x": a [ without its ]`},
		{"none", "recording:\n", "recording:\n  labels: [site]\n", ""},
		{"none", "recording:\n", "recording:\n  labels: [sitz]\n", `recording.labels[0]: no pattern has a group "sitz": did you mean "site"?`},
		{"none", "  patterns: ['(?P<id>(?P<person>\\w+)_(?P<site>\\w+))\\.wav']\n", "  patterns: []\n", "recording.patterns: missing: at least one regular expression"},
		{"none", `(?P<site>`, `(?P<stem>`, `the group name "stem" is reserved for the file's path`},
		{"none", `(?P<site>`, `(?P<path>`, `the group name "path" is reserved for the file's path`},
	} {
		text := rules[tt.layout]
		if !strings.Contains(text, tt.old) {
			t.Fatalf("%q is not in the layout", tt.old)
		}
		_, err := ParseLayout("trial.yaml", []byte(strings.Replace(text, tt.old, tt.new, 1)))
		switch {
		case tt.want == "" && err != nil:
			t.Errorf("%q for %q: %v", tt.new, tt.old, err)
		case tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n")):
			t.Errorf("%q for %q:\n got %v\nwant %s", tt.new, tt.old, err, tt.want)
		}
	}
}

func TestLabelsOfALayout(t *testing.T) {
	l, err := ParseLayout("trial.yaml", []byte(strings.Replace(minimal, "recording:\n", "recording:\n  labels: [site]\n", 1)))
	if err != nil {
		t.Fatal(err)
	}
	if got := l.LabelDoc("age"); got != "label of the data set: column age of people.csv" {
		t.Errorf("age: %s", got)
	}
	if got := l.LabelDoc("site"); got != "label of the data set: part of the file's path" {
		t.Errorf("site: %s", got)
	}
	if !l.IsRecordingLabel("site") || l.IsRecordingLabel("age") || l.IsRecordingLabel("height") {
		t.Error("site is of the recording, age of the person, and height is no label")
	}
	other, err := ParseLayout("trial.yaml", []byte(minimal))
	if err != nil {
		t.Fatal(err)
	}
	if a, b := l.Digest(), other.Digest(); len(a) != 64 || a == b {
		t.Errorf("digests %s and %s of two layouts", a, b)
	}
}
