package dataset

import (
	"strings"
	"testing"
)

func TestMatchPattern(t *testing.T) {
	for _, c := range []struct {
		pattern, name string
		want          bool
	}{
		{"*.wav", "a.wav", true},
		{"*.wav", "d/a.wav", false},
		{"**/*.wav", "a.wav", true},
		{"**/*.wav", "d/e/a.wav", true},
		{"**/training-[a-f]/*.wav", "challenge/training-b/b0001.wav", true},
		{"**/training-[a-f]/*.wav", "training-g/b0001.wav", false},
		{"**/validation/**", "validation/a0001.wav", true},
		{"**/validation/**", "x/validation/y/a0001.wav", true},
		{"**/validation/**", "validations/a0001.wav", false},
		{"set_a/*", "set_a/x.wav", true},
		{"a/**/b", "a/b", true},
		{"a/?", "a/bc", false},
	} {
		if got := matchPattern(c.pattern, c.name); got != c.want {
			t.Errorf("matchPattern(%q, %q) = %v", c.pattern, c.name, got)
		}
	}
}

func TestCheckPatternRefuses(t *testing.T) {
	for _, p := range []string{"", "/etc/*", "../*.wav", "a/../../b", "a**/b", "[a", `c:\x`, "**/**/**/**/**"} {
		if err := checkPattern(p); err == nil {
			t.Errorf("checkPattern(%q) found nothing wrong", p)
		}
	}
}

func TestExpand(t *testing.T) {
	field := map[string]string{"dir": "training_data", "id": "2530_AV", "take": ""}
	if got, ok := expandPath("{dir}/{id}.tsv", field); !ok || got != "training_data/2530_AV.tsv" {
		t.Errorf("got %q, %v", got, ok)
	}
	if got, ok := expandPath("{dir}/{id}.tsv", map[string]string{"id": "x"}); !ok || got != "x.tsv" {
		t.Errorf("in the root: got %q, %v", got, ok)
	}
	if _, ok := expand("{id}_{take}", field); ok {
		t.Error("an empty field was not noticed")
	}
	for template, want := range map[string]string{
		"{dir}/{name}.tsv": `no pattern has a group "name"`,
		"{id":              "a brace without its partner",
		"../{id}.tsv":      "out of the data root",
		"/tmp/{id}.tsv":    "out of the data root",
	} {
		var c checker
		c.pathTemplate("$.path", template, []string{"dir", "id"})
		if err := c.err(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("template %q: %v, want %q", template, err, want)
		}
	}
}
