package citation

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

var works = []Work{
	{
		Authors: []string{"Holst-Hansen C", "Müller-Ångström ÄB", "de la Peña J", "others"}, Title: "Heart sounds: S1 & S2 in 100 % of cases – a Markov model_2",
		Journal: "Physiol Meas", Year: 2010, Volume: "31", Number: "4", Pages: "513-529", DOI: "10.1088/0967-3334/31/4/004",
	},
	{Authors: []string{"Liang H"}, Title: "Envelogram", Proceedings: "Computers in Cardiology", Year: 1997, Volume: "24", Pages: "105-108"},
	{Authors: []string{"Liang H", "Łoś M"}, Title: "Another", Proceedings: "Computers in Cardiology", Year: 1997},
	{Title: "Report of nobody", Year: 2001},
}

func TestCitationText(t *testing.T) {
	for i, want := range []string{
		"Holst-Hansen C, Müller-Ångström ÄB, de la Peña J, et al. Heart sounds: S1 & S2 in 100 % of cases – a Markov model_2. Physiol Meas 2010;31(4):513-529. doi:10.1088/0967-3334/31/4/004.",
		"Liang H. Envelogram. Computers in Cardiology 1997;24:105-108.",
		"Liang H, Łoś M. Another. Computers in Cardiology 1997.",
		"Report of nobody. 2001.",
	} {
		if got := works[i].String(); got != want {
			t.Errorf("%s\nwant %s", got, want)
		}
	}
	for i, want := range []string{"Holst-Hansen et al. 2010", "Liang 1997", "Liang and Łoś 1997", "Report of nobody 2001"} {
		if got := works[i].Short(); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// bibliography is the file of all works, and of texts that a user may write.
func bibliography() string {
	entries := []Entry{
		Misc("my-set", "100 % hearts", `J. Garçia: {"Hearts"} \input{x} $5 #1 ~ ^ <a|b> “q” 25 µV ± 1, straße`, "10.1/not a doi"),
		Misc("my-set", "Other", "Another text, doi:10.13026/tshs-mw03.", ""),
	}
	for _, w := range works {
		entries = append(entries, w.BibTeX(), w.BibTeX())
	}
	return Write(entries)
}

func TestBibTeX(t *testing.T) {
	got := bibliography()
	for _, want := range []string{
		"@article{holsthansen2010,\n  author = {Holst-Hansen, C. and M{\\\"u}ller-{\\r A}ngstr{\\\"o}m, {\\\"A}. B. and de la Pe{\\~n}a, J. and others},\n" +
			"  title = {Heart sounds: {S1} \\& {S2} in 100 \\% of cases -- a {Markov} model\\_2},\n  journal = {Physiol Meas},\n  year = {2010},\n" +
			"  volume = {31},\n  number = {4},\n  pages = {513--529},\n  doi = {10.1088/0967-3334/31/4/004}\n}\n",
		"@inproceedings{liang1997,\n", "@inproceedings{liang1997b,\n", "{\\L}o{\\'s}, M.", "@misc{reportofnobody2001,\n  key = {Report of nobody},\n  title = {Report of nobody},",
		`note = {J. Gar{\c c}ia: {\textbraceleft}"Hearts"{\textbraceright} {\textbackslash}input{\textbraceleft}x{\textbraceright} \$5 \#1 {\textasciitilde} {\textasciicircum} {\textless}a{\textbar}b{\textgreater} ` +
			"``q'' 25 $\\mu$V $\\pm$ 1, stra{\\ss}e}\n}",
		"@misc{mysetb,\n  key = {my-set},\n  title = {{Other}},\n  note = {Another text, doi:10.13026/tshs-mw03.},\n  doi = {10.13026/tshs-mw03}\n}\n",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %s in\n%s", want, got)
		}
	}
	if n := strings.Count(got, "\n@") + 1; n != 6 {
		t.Errorf("%d entries, want 6: each once", n)
	}
}

// The file goes through BibTeX and LaTeX without an error or a warning.
func TestBibTeXCompiles(t *testing.T) {
	for _, program := range []string{"pdflatex", "bibtex"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skip(program, "is not installed")
		}
	}
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("references.bib", bibliography())
	write("paper.aux", "\\citation{*}\n\\bibstyle{plain}\n\\bibdata{references}\n") // as LaTeX would
	write("paper.tex", "\\documentclass{article}\\begin{document}\\input{paper.bbl}\\end{document}\n")
	for _, command := range [][]string{{"bibtex", "paper"}, {"pdflatex", "-interaction=nonstopmode", "-halt-on-error", "-draftmode", "paper"}} {
		c := exec.Command(command[0], command[1:]...)
		c.Dir = dir
		out, err := c.CombinedOutput()
		if err != nil || strings.Contains(string(out), "Warning--") || strings.Contains(string(out), "Missing character") {
			t.Fatalf("%s: %v\n%s", command[0], err, out)
		}
	}
}
