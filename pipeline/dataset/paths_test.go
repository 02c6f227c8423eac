package dataset

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

func TestPathsStayBelowTheRoot(t *testing.T) {
	for path, ok := range map[string]bool{
		"a/b.tsv": true, "{dir}/{id}.tsv": true, "..a/b": true, "a..b": true,
		"": false, "/a": false, `a\b`: false, "c:a": false, "..": false, "a/../b": false, "../a": false,
	} {
		if err := checkLocal(path); (err == nil) != ok || path != "" && !ok && !errors.Is(err, errEscape) {
			t.Errorf("%q: %v", path, err)
		}
	}
}

// A data root without recordings is told apart by what lies in it.
func TestNoRecordingsWithAFolderInThePattern(t *testing.T) {
	layout, err := ParseLayout("trial.yaml", []byte(strings.Replace(minimal, `["*.wav"]`, `["audio/*.wav"]`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ below, file, want string }{
		{"", "set/audio/ann_a.wav", "give %s/set as data root"},
		{"/audio", "audio/ann_a.wav", "no recording below %s/audio: give the folder that contains it as data root"},
		{"", "audio/ann_a.mp3", "none of 1 files matches audio/*.wav; the key source of the layout says where to get the data"},
		{"", "xaudio/ann_a.wav", "none of 1 files matches audio/*.wav"},
	} {
		root := plant(t, map[string]string{tt.file: ""})
		want := tt.want
		if strings.Contains(want, "%s") {
			want = fmt.Sprintf(want, root)
		}
		if _, err := Open(root+tt.below, layout); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s in %s: error %v, want one with %q", tt.file, tt.below, err, want)
		}
	}
}

// An error of reading names the line that could not be read.
func TestReadErrorsNameTheLine(t *testing.T) {
	fault := errors.New("broken disk")
	for text, want := range map[string]int{"": 1, "a\n": 2, "a\nb\n": 3} {
		_, err := readLines(io.MultiReader(strings.NewReader(text), iotest.ErrReader(fault)), ',', func(int, []string) error { return nil })
		var at *lineError
		if !errors.As(err, &at) || at.line != want || !errors.Is(err, fault) || err.Error() != fmt.Sprintf("line %d: broken disk", want) {
			t.Errorf("after %q: %v, want line %d", text, err, want)
		}
	}
	var lines []string
	ends, err := readLines(strings.NewReader("\xef\xbb\xbfa, b\r\n\n  \nc\r\nd"), ',', func(line int, fields []string) error {
		lines = append(lines, fmt.Sprint(line, fields))
		return nil
	})
	if got := strings.Join(lines, "; "); err != nil || got != "1 [a b]; 4 [c]; 5 [d]" || ends != (lineEnds{crlf: 2, firstCRLF: 1}) {
		t.Errorf("lines %s, ends %+v, %v", got, ends, err)
	}
	stop := errors.New("enough")
	if _, err := readLines(strings.NewReader("a\nb\nc\n"), ',', func(line int, _ []string) error {
		if line == 2 {
			return stop
		}
		return nil
	}); !errors.Is(err, stop) || err.Error() != "line 2: enough" {
		t.Errorf("stopped with %v", err)
	}
	for n, ok := range map[int]bool{maxFields: true, maxFields + 1: false} {
		fields, err := splitFields(strings.Repeat("x,", n-1)+"x", ',')
		if (err == nil) != ok || ok && len(fields) != n {
			t.Errorf("%d columns: %d, %v", n, len(fields), err)
		}
	}
}
