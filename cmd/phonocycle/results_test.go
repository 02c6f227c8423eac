package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/testdata/results"
)

// The figures of README.md and the model cards are those of the studies in
// testdata/results: each document is what "make results" would make of it, and has
// blocks at all.
func TestDocumentsHaveTheFiguresOfTheStudies(t *testing.T) {
	for _, path := range results.Documents {
		document, err := os.ReadFile(filepath.Join("..", "..", path))
		if err != nil {
			t.Fatal(err)
		}
		filled, err := results.Fill(document, results.Files)
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		if n := bytes.Count(document, []byte("<!-- results: ")); n == 0 || n != bytes.Count(document, []byte("<!-- end of results -->")) {
			t.Errorf("%s: %d blocks of results, or one without its end", path, n)
		}
		if !bytes.Equal(document, filled) {
			t.Errorf("%s does not hold the figures of the studies; run make results, or go run ./testdata/results/update", path)
		}
	}
}

// A block is made anew whatever stands in it, and one that no study can fill is an
// error that names it.
func TestBlocksOfResults(t *testing.T) {
	const marks = "before\n<!-- results: steps -->\n| wrong | 12.3 |\n<!-- end of results -->\nafter\n"
	filled, err := results.Fill([]byte(marks), results.Files)
	if text := string(filled); err != nil || strings.Contains(text, "12.3 |\n<!--") || !strings.Contains(text, "--config springer-2016") ||
		!strings.HasPrefix(text, "before\n<!-- results: steps -->\n") || !strings.HasSuffix(text, "<!-- end of results -->\nafter\n") {
		t.Errorf("%v:\n%s", err, text)
	}
	for _, block := range []string{"card nobody", "unknown"} {
		_, err := results.Fill([]byte("<!-- results: "+block+" -->\n<!-- end of results -->\n"), results.Files)
		if err == nil || !strings.Contains(err.Error(), "block "+block) {
			t.Errorf("block %s: %v", block, err)
		}
	}
}
