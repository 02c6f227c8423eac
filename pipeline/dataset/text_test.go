package dataset

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestSplitFields(t *testing.T) {
	for _, c := range []struct {
		text      string
		delimiter byte
		want      []string
	}{
		{"a,b,c", ',', []string{"a", "b", "c"}},
		{"0\t12.9\t0", '\t', []string{"0", "12.9", "0"}},
		{"a,,", ',', []string{"a", "", ""}},
		{"", ',', []string{""}},
		{" a ; b ", ';', []string{"a", "b"}},
		{"  1   2\t3 ", ' ', []string{"1", "2", "3"}},
		{`"a,b","say ""hm""", c`, ',', []string{"a,b", `say "hm"`, "c"}},
		{`"", x`, ',', []string{"", "x"}},
		{`a"b,c`, ',', []string{`a"b`, "c"}},
	} {
		got, err := splitFields(c.text, c.delimiter)
		if err != nil {
			t.Errorf("splitFields(%q): %v", c.text, err)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("splitFields(%q):\n%s", c.text, diff)
		}
	}
	for text, want := range map[string]string{
		`"open`:                   "not closed",
		`"a"b,c`:                  "after a closing quote",
		"a\x00b":                  "zero byte",
		strings.Repeat(",", 2000): "more than 1024 columns",
	} {
		if _, err := splitFields(text, ','); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("splitFields(%.10q): error %v, want one with %q", text, err, want)
		}
	}
}

func TestReadLines(t *testing.T) {
	var got [][]string
	var lines []int
	ends, err := readLines(strings.NewReader("\xef\xbb\xbfa,b\n\n1,2\r\n  \r\n3,4"), ',', func(n int, f []string) error {
		lines, got = append(lines, n), append(got, append([]string(nil), f...))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([][]string{{"a", "b"}, {"1", "2"}, {"3", "4"}}, got); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]int{1, 3, 5}, lines); diff != "" {
		t.Error(diff)
	}
	if ends.crlf != 2 || ends.firstCRLF != 3 {
		t.Errorf("line ends %+v, want 2 CR LF from line 3", ends)
	}
	_, err = readLines(strings.NewReader("1\n"+strings.Repeat("x", maxLine+1)), ',', func(int, []string) error { return nil })
	if err == nil || !strings.Contains(err.Error(), "line 2: longer than") {
		t.Errorf("long line: %v", err)
	}
}
