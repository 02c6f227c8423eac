package eval

import (
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/eval/tabular"
)

var updateTables = flag.Bool("update-tables", false, "write the tables of testdata/eval/tables anew")

// tables are results with names that a format could take for its own marks.
func tables() map[string]func(io.Writer, tabular.Format) error {
	nasty := `10 % & a_b|c {x} \ "q", $1 #2 ~^<>*` + "`"
	score := Score{
		Class: Both, Anchor: Centre, ToleranceMS: 60, People: 12, Recordings: 40, Recall: 0.9123, Precision: 0.8, F1: 0.8525,
		Intervals: &RatioIntervals{
			Recall:    Intervals{Percentile: Bounds{0.9, 0.93}, BCa: Bounds{0.89, 0.92}},
			Precision: Intervals{Percentile: Bounds{0.7, 0.9}, BCa: noBounds()},
			F1:        Intervals{noBounds(), noBounds()},
		},
	}
	few := score
	few.Stratum, few.People, few.Intervals, few.Recall, few.Precision, few.F1 = "site="+nasty, 3, nil, null(), null(), null()
	hidden := score // a sound of a stratum is not in the table
	hidden.Stratum, hidden.Class = "site=AV", S1
	rules := DefaultRules()
	summary := &Summary{Rules: rules.summary(), Provenance: Provenance{Method: nasty, Origin: CrossValidated, Folds: 10, FoldSeed: 1}, Counts: Counts{Scored: 38, Failed: 2}, Resamples: 2000, Statistics: Statistics{Scores: Scores{score, few, hidden}}}

	pair := Pair{First: nasty, Second: "hmm", Test: SignedRank{P: 0.00001}, AdjustedP: 0.03, Better: "hmm"}
	for aggregate := range Aggregate(aggregates) {
		pair.Differences = append(pair.Differences, Difference{Class: Both, Aggregate: aggregate, First: 0.9, Second: 0.92, Difference: 0.02, Low: -0.01, High: 0.05})
	}
	comparison := &Comparison{
		Rules: rules.summary(), Against: nasty, People: 12, Recordings: 40, Resamples: 20_000, ScoreResamples: 2000, Pairs: []Pair{pair},
		Runs: []ComparedRun{
			{Name: nasty, DataSet: nasty, Version: "1.0", People: 12, Recordings: 40, Failed: 2, Cost: null()},
			{Name: "hmm", DataSet: nasty, Version: "1.0", People: 12, Recordings: 40, Cost: 2.25, Provenance: Provenance{Method: "hmm", Origin: CrossValidated, Folds: 10, FoldSeed: 1}},
		},
	}
	for _, run := range comparison.Runs {
		for _, class := range []Class{Both, S1, S2} {
			for aggregate := range Aggregate(aggregates) {
				row := score
				row.Class, row.Aggregate = class, aggregate
				comparison.Scores = append(comparison.Scores, RunScore{run.Name, row})
			}
		}
	}
	overview := exampleOverview(nasty, score)

	audit := &Audit{Recordings: 9, Flagged: 1, Findings: []Finding{{Recording: "a_1", Person: "p", Reason: Gaps, At: 1500 * ms, Count: 2, Evidence: nasty, Place: "x.tsv:3"}}}
	list := map[string]func(io.Writer, tabular.Format) error{
		"scores": summary.WriteTable, "paper": comparison.WriteTable, "comparison": Differences{comparison}.WriteTable, "overview": overview.WriteTable,
		"audit": audit.WriteTable,
	}
	for _, t := range exampleStudy("a_b|c & {x}", score).Tables() {
		list["study-"+t.Name] = t.Write
	}
	return list
}

// exampleStudy has two methods in two columns, one of S1 alone, under noise and
// another condition.
func exampleStudy(name string, score Score) *Study {
	from := exampleOverview(name, score)
	h := StudyHeader{Title: name, Methods: from.Methods, Columns: []string{"100 %", "ecg"}, Conditions: []string{"", "noise=pink,snr=0", "noise=pink,snr=-2.5", "clip=0.1"}}
	s := &Study{Header: h, Columns: from.Columns, Resamples: 2000, DifferenceResamples: 20_000, FailBelow: failBelow}
	for i, column := range h.Columns {
		s.Columns[i].Name = column
		for _, condition := range h.Conditions {
			for k, method := range h.Methods {
				if i == 1 && (k == 0 || condition == "clip=0.1") {
					s.Faults = append(s.Faults, StudyFault{column + "/" + method + prefixed("/", condition), method, column, condition, "the model " + name + " is not there, and this reason takes more than one line in a narrow table"})
					continue
				}
				c := StudyCell{ID: column + "/" + method, Column: column, Method: method, Condition: condition, Digest: "00", Cost: null()}
				c.Counts.Failed, c.Provenance = 2*k, Provenance{Method: method, Origin: NotFitted}
				c.Headline = Scores{score}
				c.Headline[0].Low, c.Headline[0].High = 0.8, 0.9
				s.Cells = append(s.Cells, c)
				s.Ranks = append(s.Ranks, StudyRank{column, condition, method, score.F1, 1, Ratio(0.25 + 0.5*float64(k))})
				if condition != "" {
					d := Difference{First: 0.9, Second: 0.85, Difference: -0.05, Low: -0.1, High: 0.002 - 0.01*Ratio(k)}
					s.Losses = append(s.Losses, StudyLoss{Column: column, Method: method, Condition: condition, Pooled: d, PerPerson: d, Test: SignedRank{P: 0.00001}, AdjustedP: 0.03, Shown: k == 1})
				}
			}
		}
	}
	for _, better := range []string{name, ""} {
		pair := Pair{First: "hmm", Second: name, Better: better, AdjustedP: 0.2}
		for aggregate := range Aggregate(aggregates) {
			pair.Differences = append(pair.Differences, Difference{Aggregate: aggregate, First: 0.9, Second: 0.92, Difference: 0.02, Low: -0.01, High: 0.05})
		}
		s.Pairs = append(s.Pairs, StudyPair{h.Columns[0], pair})
	}
	s.Failing = []StudyRecording{{h.Columns[0], "a_1", name, []MethodScore{{name, 0.1}, {"hmm", 0.4}}}}
	return s
}

// exampleOverview has two methods on two references, one of S1 alone, and a cell that
// is missing.
func exampleOverview(name string, score Score) *Overview {
	states, ecg := DefaultRules(), DefaultRules()
	ecg.Reference, ecg.S1Only = "ecg", true
	ecg.SetHeadline(100 * ms)
	o := &Overview{Methods: []string{name, "hmm"}, Resamples: 2000, Columns: []OverviewColumn{
		{DataSet: name, Version: "1.0", Rules: states.summary(), People: 12, Recordings: 40},
		{DataSet: "clinic", Rules: ecg.summary(), People: 1, Recordings: 7, Selection: "recordings quiet (1f2e)"},
	}}
	add := func(column int, r ComparedRun, class Class) {
		s := score
		s.Class, s.Low, s.High = class, 0.8, 0.9
		c := &o.Columns[column]
		r.DataSet, r.Version, r.People, r.Recordings = c.DataSet, c.Version, c.People, c.Recordings
		o.Cells = append(o.Cells, OverviewCell{column, r, s})
	}
	fitted := Provenance{Method: "hmm", Origin: CrossValidated, Folds: 10, FoldSeed: 1}
	add(0, ComparedRun{Name: name, Failed: 2, Cost: null(), Provenance: Provenance{Method: "peaks", Origin: NotFitted}}, Both)
	add(0, ComparedRun{Name: "hmm", Cost: 2.25, Provenance: fitted}, Both)
	fitted.Origin, fitted.TrainedOn = FittedElsewhere, TrainedOn{DataSet: "circor 1.0", People: 151}
	add(1, ComparedRun{Name: "hmm", Cost: 2, Provenance: fitted}, S1)
	return o
}

// checkText compares a text with a file that a person has read, or writes the file.
func checkText(t *testing.T, path string, got []byte) {
	t.Helper()
	if *updateTables {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s (− want, + got):\n%s", path, d)
	}
}

// The files of testdata/eval/tables were read by a person and hold what each
// format needs escaped.
func TestTablesForPapers(t *testing.T) {
	for name, write := range tables() {
		for _, format := range append(tabular.FileFormats, tabular.HTML, tabular.Text) {
			var b bytes.Buffer
			if err := write(&b, format); err != nil {
				t.Fatal(err)
			}
			checkText(t, filepath.Join("..", "testdata", "eval", "tables", name+format.Extension()), b.Bytes())
		}
	}
}

// Whatever names hold, a row has as many cells as the header.
func TestTablesKeepTheirCellsApart(t *testing.T) {
	separators := map[tabular.Format]*regexp.Regexp{tabular.Markdown: regexp.MustCompile(`(^|[^\\])\|`), tabular.LaTeX: regexp.MustCompile(`[^\\]&`)}
	for name, write := range tables() {
		var b bytes.Buffer
		if err := write(&b, tabular.CSV); err != nil {
			t.Fatal(err)
		}
		if rows, err := csv.NewReader(&b).ReadAll(); err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows: %v", name, len(rows), err)
		}
		for format, separator := range separators {
			b.Reset()
			if err := write(&b, format); err != nil {
				t.Fatal(err)
			}
			for block := range strings.SplitSeq(b.String(), `\begin{tabular}`) { // of a table that is too wide
				cells := map[int]bool{}
				for line := range strings.Lines(block) {
					if (strings.HasPrefix(line, "|") || strings.HasSuffix(line, "\\\\\n")) && !strings.Contains(line, `\multicolumn`) {
						cells[len(separator.FindAllString(line, -1))] = true
					}
				}
				if len(cells) > 1 {
					t.Errorf("%s as %s: rows of %v separators", name, format, cells)
				}
			}
		}
	}
	if err := new(Audit).WriteTable(io.Discard, "word"); err == nil || !strings.Contains(err.Error(), "latex") {
		t.Errorf("an unknown format: %v", err)
	}
}

// The tables fit the width that they state, whatever names hold, and are divided where
// they are longer than a page.
func TestLaTeXFitsThePage(t *testing.T) {
	pdflatex, err := exec.LookPath("pdflatex")
	if err != nil {
		t.Skip("pdflatex is not installed (Debian: texlive-latex-recommended)")
	}
	dir := t.TempDir()
	var document bytes.Buffer
	document.WriteString("\\documentclass{article}\n\\usepackage{booktabs}\n\\begin{document}\n")
	list := tables()
	for _, words := range []string{"word", "a reason of many words that stands in lines one below the other, until its cell is rather high"} {
		long := tabular.Fill(tabular.Table{Name: "long", Title: "Long"}, make([]int, 100),
			tabular.Words("Words", func(int) string { return words }), tabular.Counts("Number", func(n int) int { return n }))
		list["long "+words] = long.Write
	}
	for name, write := range list {
		var b bytes.Buffer
		if err := write(&b, tabular.LaTeX); err != nil {
			t.Fatal(err)
		}
		stated := regexp.MustCompile(`a text width of (\d+) mm`).FindStringSubmatch(b.String())
		if stated == nil {
			t.Fatalf("%s does not state its width", name)
		}
		fmt.Fprintf(&document, "\\setlength{\\textwidth}{%smm}\\setlength{\\hsize}{%[1]smm}\\setlength{\\columnwidth}{%[1]smm}\\setlength{\\linewidth}{%[1]smm}\n%s\\clearpage\n", stated[1], &b)
	}
	document.WriteString("\\end{document}\n")
	if err := os.WriteFile(filepath.Join(dir, "tables.tex"), document.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(pdflatex, "-interaction=nonstopmode", "-halt-on-error", "tables.tex")
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil || strings.Contains(string(out), "Overfull") || strings.Contains(string(out), "too large") {
		t.Errorf("%v\n%s", err, out)
	}
}
