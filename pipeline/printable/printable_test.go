package printable

import (
	"encoding/json"
	"strings"
	"testing"
)

func TestName(t *testing.T) {
	for name, want := range map[string]string{
		"plain é":                   "plain é",
		"caf\xe9":                   `caf\xe9`,
		"a\nb\"":                    `a\nb"`,
		"\x1b[31m\a\x7f":            `\x1b[31m\a\x7f`,
		"\u009b31m":                 `\u009b31m`,
		"\u202e\u2066\u200f\u061c.": `\u202e\u2066\u200f\u061c.`,
		"\u2028":                    `\u2028`,
	} {
		if got := Name(name); got != want {
			t.Errorf("%q: %s, want %s", name, got, want)
		}
	}
}

// What is escaped does not depend on where the text is cut into writes.
func TestWriter(t *testing.T) {
	const text = "é\tx\u00a0\n\x1b[31m\x07\x7f\u009b\u202eabc\u2069\u200e\u2028\xff\u20ac\U000e0001."
	const want = "é\tx\u00a0\n" + `\x1b[31m\a\x7f\u009b\u202eabc\u2069\u200e\u2028\xff€\U000e0001.`
	for size := 1; size <= len(text); size++ {
		var b strings.Builder
		w := &Writer{To: &b}
		for rest := text; rest != ""; {
			n := min(size, len(rest))
			if m, err := w.Write([]byte(rest[:n])); m != n || err != nil {
				t.Fatal(m, err)
			}
			rest = rest[n:]
		}
		if b.String() != want {
			t.Errorf("writes of %d bytes: %q", size, b.String())
		}
	}
}

func TestJSON(t *testing.T) {
	const label = "a\x1b\x7f\u009b\u202e\U000e0001é"
	text, err := json.Marshal(label)
	if err != nil {
		t.Fatal(err)
	}
	text = JSON(text)
	var again, shown = "", strings.Builder{}
	if err := json.Unmarshal(text, &again); err != nil || again != label {
		t.Errorf("%s reads as %q: %v", text, again, err)
	}
	if _, err := (&Writer{To: &shown}).Write(text); err != nil || shown.String() != string(text) {
		t.Errorf("%s is not shown as it is: %s", text, shown.String())
	}
}
