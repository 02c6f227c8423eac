package main

import (
	"html"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval"
)

// provenanceOf is what printed JSON and summary.json say of how a score arose.
type provenanceOf struct {
	Provenance eval.Provenance
	Warnings   []string
}

// However a score arose, each printer says so in the same words: the screen,
// summary.json, the tables for papers and the page.
func TestProvenance(t *testing.T) {
	inTinyFolder(t)
	c := &commands{used: map[string]bool{}}
	writeFile(t, "provenance-one.yaml", predictionsFormat+"fitted-on: [t1, elsewhere-1]\n")
	writeFile(t, "provenance-others.yaml", predictionsFormat+"fitted-on: others.txt\n")
	writeFile(t, "others.txt", "elsewhere-1\nelsewhere-2\n")
	writeFile(t, "provenance-nobody.yaml", predictionsFormat+"fitted-on: []\n")
	writeFile(t, "provenance-folds.yaml", predictionsFormat+"fitted-on: {folds: [[t1, t2, t3, t4], [t1, t2, t5, t6], [t1, t3, t4, t5, t6]]}\n")
	c.run(t, 0, "fit "+tiny+" --method duration-hmm --most-people 2 --fold-seed 3 --model-out provenance-model.json")
	const (
		own   = "run " + tiny + " --method duration-hmm --model provenance-model.json --training-overlap "
		given = "score " + tiny + " --predictions exact.csv --format "
		known = `duration-hmm, fitted on 2 people of Eight recordings of six invented people 1 \(data [0-9a-f]{12}\), 2 of `
	)
	for _, tt := range []struct{ folder, line, want string }{
		{"not-fitted", "run " + tiny + " --method shannon-peaks", "shannon-peaks, not fitted"},
		{"crossval-not-fitted", "crossval " + tiny + " --method shannon-peaks --folds 3", "shannon-peaks, not fitted"},
		{"others", "run " + tiny + " --method duration-hmm", `duration-hmm, fitted on 151 other people of CirCor DigiScope Phonocardiogram Dataset 1\.0\.3 \(data [0-9a-f]{12}\)`},
		{"crossval", "crossval " + tiny + " --method duration-hmm --folds 3 --fold-seed 4", "duration-hmm, cross-validated, 3 folds by person, seed 4"},
		{"again", "score --states provenance-crossval --tolerance 40ms", "duration-hmm, cross-validated, 3 folds by person, seed 4"},
		{"left-out", own + "leave-out", known + "these people left out"},
		{"scored", own + "score", known + "whom are scored"},
		{"undeclared", given + "predictions.yaml", "exact, made elsewhere, training data not declared"},
		{"declared", given + "provenance-others.yaml", "exact, made elsewhere, declared as fitted on 2 other people"},
		{"declared-left-out", given + "provenance-one.yaml --training-overlap leave-out", "exact, made elsewhere, declared as fitted on 2 people, 1 of these people left out"},
		{"declared-not-fitted", given + "provenance-nobody.yaml", "exact, made elsewhere, declared as not fitted"},
		{"declared-folds", given + "provenance-folds.yaml --training-overlap leave-out", "exact, made elsewhere, declared as cross-validated, 3 folds by person, 1 person of all training sets left out"},
		{"folds-from", given + "predictions.yaml --folds-from provenance-crossval", "exact, made elsewhere, declared as cross-validated, 3 folds by person, seed 4, folds of provenance-crossval"},
	} {
		t.Run(tt.folder, func(t *testing.T) {
			folder := "provenance-" + tt.folder
			screen, _ := c.run(t, 0, tt.line+" --resamples 20 --out "+folder)
			checkProvenance(t, c, folder, screen, regexp.MustCompile(tt.want))
		})
	}
}

// The page that explains a recording says on whom the method was fitted, and that its
// person is among them.
func TestProvenanceOfExplanations(t *testing.T) {
	inTinyFolder(t)
	c := &commands{used: map[string]bool{}}
	c.run(t, 0, "fit "+tiny+" --method duration-hmm --model-out explain-all.json")
	for model, want := range map[string]string{"builtin": "duration-hmm, fitted on 151 other people of CirCor", "explain-all.json": "duration-hmm, fitted on recordings of this person too"} {
		c.run(t, 0, "explain "+tiny+" --recording t5_mitral --source predicted --overwrite --out explain-provenance.html --model "+model)
		page, err := os.ReadFile("explain-provenance.html")
		if err != nil || strings.Count(string(page), want) != 2 {
			t.Errorf("%s: the page does not say %q twice: %v", model, want, err)
		}
	}
}

// checkProvenance makes sure that everything that is made of a folder says how its
// scores arose.
func checkProvenance(t *testing.T, c *commands, folder, screen string, want *regexp.Regexp) {
	t.Helper()
	summary, err := os.ReadFile(folder + "/summary.json")
	if err != nil {
		t.Fatal(err)
	}
	s := decoded[provenanceOf](t, string(summary))
	words := s.Provenance.Words()
	if want.FindString(words) != words {
		t.Fatalf("summary.json: %q, want %q", words, want)
	}
	says := func(what, text string) {
		t.Helper()
		if !strings.Contains(strings.Join(strings.Fields(text), " "), "Segmented by "+words) {
			t.Errorf("%s does not say %q", what, words)
		}
	}
	says("the screen", screen)
	if (s.Provenance.Trained > 0) != strings.Contains(strings.Join(s.Warnings, "\n"), "says nothing about others") {
		t.Errorf("people of the training data are scored: %d; warnings %q", s.Provenance.Trained, s.Warnings)
	}
	if !slices.Contains([]string{"provenance-others", "provenance-crossval", "provenance-left-out", "provenance-scored", "provenance-undeclared", "provenance-folds-from"}, folder) {
		return // other words by the same printers
	}
	table, _ := c.run(t, 0, "score --states "+folder+" --training-overlap "+overlapOf(&s.Provenance)+" --resamples 20 --out "+folder+"-table --overwrite --table latex")
	says("--table latex", table)
	page := folder + "-page"
	c.run(t, 0, "report --results "+folder+" --out "+page+".html --tables "+page)
	for _, name := range []string{"scores", "strata", "tolerance", "timing", "agreement"} {
		for _, extension := range []string{".tex", ".md"} {
			content, err := os.ReadFile(page + "/" + name + extension)
			if err != nil {
				t.Fatal(err)
			}
			says(name+extension, string(content))
		}
	}
	content, err := os.ReadFile(page + ".html")
	if err != nil {
		t.Fatal(err)
	}
	text := html.UnescapeString(string(content))
	for _, place := range []string{`(?s)<section [^>]*aria-labelledby="headline".*?</section>`, `(?s)<section [^>]*aria-labelledby="rules".*?</section>`} {
		says("the page, in "+place, regexp.MustCompile(place).FindString(text))
	}
	for _, caption := range regexp.MustCompile(`<figcaption>F1.*?</figcaption>`).FindAllString(text, -1) {
		says("the caption "+caption, caption)
	}
	if !strings.Contains(text, "<dt>Origin</dt><dd>"+s.Provenance.Short()) {
		t.Errorf("the colophon does not say %q", s.Provenance.Short())
	}
}

// overlapOf returns what a scoring does with people of the training data.
func overlapOf(p *eval.Provenance) string {
	if p.Trained > 0 {
		return "score"
	}
	return "leave-out"
}
