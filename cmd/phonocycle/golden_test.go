package main

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var updateGolden = flag.Bool("update-golden", false, "write testdata/golden anew")

// TestGolden compares what run prints of the demo and of two real recordings with
// figures that were reviewed by hand. It stands beside the tests that compare the
// program with itself. The figures of the real recordings are ours; the recordings
// stay in the folder PHONOCYCLE_DATA.
//
// After a change that moves figures,
//
//	go test ./cmd/phonocycle -run Golden -update-golden
//
// writes them anew, to be read and reviewed before they are committed.
//
// The review: testdata/golden/review.py recomputes the figures from the predictions
// in the table states and from the references in their own files, by the rules that
// the summary prints. It shares no code with the program. On 2026-11-29 it gave all
// of these, for all three, to the printed digit: TP, FP and FN, recall, precision and
// F1, pooled and as means over recordings and people; F1 at all tolerances and
// anchors; whole cycles and right ones; predicted states over time; pairs, bias and SD
// of all places; heart rate and systole with their limits. Medians and quantiles
// agree within the ±0.125 ms that the rules state. Not recomputed: intervals, and
// sounds exchanged, found twice or merged.
func TestGolden(t *testing.T) {
	golden, err := filepath.Abs("testdata/golden")
	if err != nil {
		t.Fatal(err)
	}
	data, err := filepath.Abs(filepath.Join("..", "..", "..", "shared", "data"))
	if err != nil {
		t.Fatal(err)
	}
	if given := os.Getenv("PHONOCYCLE_DATA"); given != "" {
		data = given
	}
	for _, tt := range []struct {
		name, command string
		files         []string // of the data; tables are cut to the heading and the rows of one recording
		key           string   // in those rows
	}{
		{"demo", "demo --out out", nil, ""},
		{"circor-2530-mv", "run --data data --layout circor --method shannon-peaks --out out",
			[]string{"circor/training_data.csv", "circor/training_data/2530_MV.wav", "circor/training_data/2530_MV.tsv"}, "2530,"},
		{"pascal-201102260502", "run --data data --layout pascal --method duration-hmm --out out",
			[]string{"pascal/set_a.csv", "pascal/set_a_timing.csv", "pascal/set_a/normal__201102260502.wav"}, "normal__201102260502.wav,"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			for _, file := range tt.files {
				copyCut(t, filepath.Join(data, filepath.FromSlash(file)), tt.key)
			}
			status, stdout, stderr := call(t, strings.Fields(tt.command)...)
			if status != 0 {
				t.Fatalf("%s: status %d: %s", tt.command, status, stderr)
			}
			got := figures(stdout)
			path := filepath.Join(golden, tt.name+".txt")
			if *updateGolden {
				writeFile(t, path, got)
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if line := firstDifference(string(want), got); line != "" {
				t.Errorf("%s: %s\nreview the figures, then write them anew with -update-golden", tt.command, line)
			}
		})
	}
}

// copyCut copies a file of a data set to the folder data: a table with its heading
// and the rows that have the key, any other file whole.
func copyCut(t *testing.T, path, key string) {
	t.Helper()
	content, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		t.Skipf("%v: set PHONOCYCLE_DATA to the folder of the data sets", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	folders := strings.Split(filepath.ToSlash(path), "/")
	to := len(folders) - 1
	for folders[to-1] != "circor" && folders[to-1] != "pascal" {
		to--
	}
	text := string(content)
	if strings.HasSuffix(path, ".csv") {
		text = ""
		for line := range strings.Lines(string(content)) {
			if text == "" || strings.Contains(line, key) {
				text += line
			}
		}
	}
	writeFile(t, filepath.Join(append([]string{"data"}, folders[to:]...)...), text)
}

// figures returns the figures of a printed summary, without the time that it took and
// cost, the rules and the files.
func figures(printed string) string {
	text, _, _ := strings.Cut(printed, "\nRules\n")
	return regexp.MustCompile(`; [\d.]+ s\nprocessor time: .*\n`).ReplaceAllString(text, "\n")
}

// firstDifference returns the first line in which two texts differ, or nothing.
func firstDifference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(a), len(b)) {
		var x, y string
		if i < len(a) {
			x = a[i]
		}
		if i < len(b) {
			y = b[i]
		}
		if x != y {
			return "got  " + y + "\nwant " + x
		}
	}
	return ""
}
