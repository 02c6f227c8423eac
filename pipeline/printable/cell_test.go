package printable

import (
	"strings"
	"testing"
)

func TestCell(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "a=b": "a=b", "'": "'", "it's": "it's", "-1": "-1", "+2.5e-3": "+2.5e-3", "\xff": "\xff",
		"=1+1": "'=1+1", "-1+1": "'-1+1", "@A1": "'@A1", "+cmd|' /C calc'!A0": "'+cmd|' /C calc'!A0",
		"\t=1": "'\t=1", "\r=1": "'\r=1", "＝1": "'＝1", "'=1": "''=1", "-": "'-",
	} {
		got := Cell(text)
		if got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
		if bare := strings.TrimLeft(got, "'"); bare != got && bare != "" && strings.ContainsRune(formulaMarks, []rune(bare)[0]) {
			got = got[1:]
		}
		if got != text {
			t.Errorf("%q reads back as %q", text, got)
		}
	}
}
