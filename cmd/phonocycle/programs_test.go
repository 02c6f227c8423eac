package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// methodOf returns the file of the method of README.md in a language, and its name.
func methodOf(t *testing.T, readme, language string) (name, text string) {
	t.Helper()
	_, text, found := strings.Cut(readme, "\n```"+language+"\n")
	text, _, closed := strings.Cut(text, "```\n")
	if !found || !closed {
		t.Fatalf("README.md has no method in %s", language)
	}
	return map[string]string{"yaml": "envelope_pairs.yaml", "python": "envelope_pairs.py"}[language], text
}

// README.md shows the method in Python as it is.
func TestReadmeShowsTheMethod(t *testing.T) {
	for _, language := range []string{"yaml", "python"} {
		name, text := methodOf(t, readReadme(t), language)
		if want, err := os.ReadFile(filepath.Join("..", "..", "testdata", "methods", name)); err != nil || text != string(want) {
			t.Errorf("README.md shows another %s: %v", name, err)
		}
	}
}

// withoutSciPy makes python3 one that has SciPy. It returns why there is none.
func withoutSciPy(t *testing.T) string {
	t.Helper()
	path := os.Getenv("PATH")
	for _, first := range []string{"", "/usr/bin" + string(os.PathListSeparator)} { // the second is that of Debian
		t.Setenv("PATH", first+path)
		if exec.Command("python3", "-c", "import numpy, scipy").Run() == nil {
			return ""
		}
	}
	return "no python3 with SciPy (Debian: python3-scipy)"
}

// The methods in other languages run like those of this program: cross-validated, with
// a model for each fold, or as they are.
func TestMethodsInOtherLanguages(t *testing.T) {
	methods, err := filepath.Abs(filepath.Join("..", "..", "testdata", "methods"))
	if err != nil {
		t.Fatal(err)
	}
	inTinyFolder(t)
	c := &commands{used: map[string]bool{}}
	headline := func(t *testing.T, line string) *printedSummary {
		t.Helper()
		out, _ := c.run(t, 0, line+" --resamples 20 --json")
		r := decoded[printedReport](t, out)
		if r.Counts.Done != 8 || r.Summary.Headline.TP+r.Summary.Headline.FN != 67 {
			t.Errorf("%s: %+v, %+v", line, r.Counts, r.Summary.Headline)
		}
		return r.Summary
	}
	t.Run("Python", func(t *testing.T) {
		if why := withoutSciPy(t); why != "" {
			t.Skip(why)
		}
		line := "crossval " + tiny + " --folds 2 --workers 1 --out pairs --method " + filepath.Join(methods, "envelope_pairs.yaml")
		if s := headline(t, line); s.Headline.F1 < 0.8 {
			t.Errorf("F1 %.3f of clear sounds", s.Headline.F1)
		}
		if got := files(t, "pairs/models"); !slices.Equal(got, []string{"fold-00.json", "fold-01.json"}) {
			t.Errorf("models %v", got)
		}
	})
	t.Run("R", func(t *testing.T) {
		if exec.Command("Rscript", "-e", "library(jsonlite)").Run() != nil {
			t.Skip("no Rscript with jsonlite (Debian: r-base-core, r-cran-jsonlite)")
		}
		if s := headline(t, "run "+tiny+" --method "+filepath.Join(methods, "loud_sounds.yaml")+" --out loud"); s.Headline.F1 < 0.8 {
			t.Errorf("F1 %.3f of clear sounds", s.Headline.F1)
		}
	})
}
