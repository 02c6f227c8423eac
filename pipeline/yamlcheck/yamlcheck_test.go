package yamlcheck

import (
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for _, tt := range []struct{ name, text, want string }{
		{"good", "a: [1, 2]\nb:\n  c: x\n", ""},
		{"empty", "", "0 documents"},
		{"two", "a: 1\n---\nb: 2\n", "2 documents"},
		{"anchor", "a: &x [1]\nb: 2\n", "f.yaml:1:4: anchors, aliases and tags"},
		{"unfolding", "a: &a [1]\nb: &b [*a, *a]\n", "anchors"},
		{"merge", "a: 1\n<<: {b: 1}\n", "anchors"},
		{"tag", "a: !!binary x\n", "f.yaml:1:4: anchors, aliases and tags"},
		{"tag without a value", "people:\n   !id: ", "f.yaml"},
		{"deep flow", strings.Repeat("[", 1000), "f.yaml:1: nested deeper"},
		{"deep blocks", strings.Repeat("- ", 1000), "f.yaml:1: nested deeper"},
		{"deep keys", "\n" + strings.Repeat("? ", 1000), "f.yaml:2: nested deeper"},
		{"long", "a: " + strings.Repeat("x", 5000), "longer than 4 KiB"},
		{"not text", "a: \xff\n", "not UTF-8"},
		{"no YAML", "a: [1\n", "f.yaml:1:"},
	} {
		switch file, err := Parse("f.yaml", []byte(tt.text), 4096); {
		case tt.want == "" && (err != nil || file == nil):
			t.Errorf("%s: %v", tt.name, err)
		case tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}

func TestNearest(t *testing.T) {
	for word, want := range map[string]string{"labls": "labels", "Kind": "kind", "xyz": "", "columsn": "columns"} {
		if got := Nearest(word, []string{"columns", "kind", "labels"}); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

// What is no YAML is refused in plain words, never in those of the parser.
func TestSyntax(t *testing.T) {
	for text, want := range map[string]string{
		"a: [1\n":            "f.yaml:1:4: a list that begins with [ has no ] at its end",
		"a: {b: 1\n":         "f.yaml:1:4: keys that begin with { have no } at their end",
		"a: ]\n":             "f.yaml:1:4: the [ that belongs to this one is missing",
		"a: 1\nb: 1\na: 2\n": `f.yaml:3:1: the key "a" stands twice, first in line 1: remove one`,
		"a: \"x\nb: 1\n":     "f.yaml:1:4: a double quote that is not closed",
		"a:\n\tb: 1\n":       "f.yaml:2:1: a tab or another character that cannot stand here",
		"a: b: c\n":          `f.yaml:1:4: cannot be read here: write "key: value"`,
		"a:b\nc: 1\n":        `f.yaml:1:1: cannot be read here: write "key: value"`,
		"- a\nb: 1\n":        `f.yaml:2:1: cannot be read here: write "key: value"`,
		"a: @x\n":            `f.yaml:1:4: cannot be read here: `,
	} {
		if _, err := Parse("f.yaml", []byte(text), 4096); err == nil || !strings.HasPrefix(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// All errors of a file come at once, and the same one in a thousand places is
// told twenty times.
func TestErrorsAreBounded(t *testing.T) {
	var out struct {
		People []struct {
			Age int `yaml:"age"`
		} `yaml:"people"`
	}
	_, err := Decode("f.yaml", []byte("people:\n"+strings.Repeat("- age: old\n", 1000)), 1<<20, &out)
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != maxErrors+1 || lines[0] != `f.yaml:2:8: people[0].age: "old": want a whole number` ||
		lines[1] != `f.yaml:3:8: people[1].age: "old": want a whole number` || lines[maxErrors] != "f.yaml: and 980 more errors: correct these first" {
		t.Errorf("%d lines: %v", len(lines), err)
	}
}

// Options are refused in words of their file, not of Go.
func TestDecodeNode(t *testing.T) {
	type options struct {
		Level float64 `yaml:"threshold-sd"`
		Count int     `yaml:"hypotheses"`
		Lags  []int   `yaml:"lags"`
		Inner struct {
			Mean float64 `yaml:"mean"`
		} `yaml:"timing"`
	}
	for text, want := range map[string]string{
		"threshold-sd: 2":     "",
		"threshold-sd: abc":   `options: threshold-sd: "abc": want a number`,
		"threshold-sd: 2.0":   "",
		"hypotheses: many":    `options: hypotheses: "many": want a whole number`,
		"hypotheses: 1.5":     `options: hypotheses: "1.5": want a whole number`,
		"timing: {mean: 0.5}": "",
		"timing: {mean: x}":   `options: timing.mean: "x": want a number`,
		"lags: [1, 2.5]":      `options: lags[1]: "2.5": want a whole number`,
		"threshhold-sd: 2":    `options: unknown key "threshhold-sd": did you mean "threshold-sd"?`,
		"timing: {mean: [1]}": "options: timing.mean: a list: want a number",
		"other: 2":            `options: unknown key "other": there are threshold-sd, hypotheses, lags, timing`,
		"timing: 3":           `options: timing: "3": want keys with values`,
		"lags: {a: 1}":        `options: lags: keys with values: want a list`,
	} {
		file, err := Parse("f.yaml", []byte(text), 4096)
		if err != nil {
			t.Fatal(err)
		}
		o := options{Count: 5}
		err = DecodeNode("options", file.Docs[0].Body, &o)
		if want == "" {
			if err != nil || o.Level != 2 && o.Inner.Mean != 0.5 || o.Count != 5 {
				t.Errorf("%s: %+v, error %v", text, o, err)
			}
			continue
		}
		if err == nil || !strings.HasPrefix(err.Error(), want) || strings.Contains(err.Error(), "unmarshal") {
			t.Errorf("%s: error %v, want %s", text, err, want)
		}
	}
}
