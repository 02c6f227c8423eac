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
		"timing: {mean: [1]}": "options: ",
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
