package report

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"phonocycle/eval"
)

// A paperTable is a table of the page as a paper prints it.
type paperTable struct {
	name, caption string
	head          []string
	words         int // leading columns that are words; the others are numbers
	rows          [][]string
}

// WriteTables writes the scores, strata, time differences and, of several runs,
// their headlines into a folder, each as Markdown, LaTeX (with the rules of the
// package booktabs) and CSV. It returns the paths of the files.
func (p *Page) WriteTables(dir string) ([]string, error) {
	var paths []string
	for _, t := range p.paperTables() {
		for _, format := range []struct {
			extension string
			text      func() string
		}{{".md", t.markdown}, {".tex", t.latex}, {".csv", t.csv}} {
			path := filepath.Join(dir, t.name+format.extension)
			if err := os.WriteFile(path, []byte(format.text()), 0o644); err != nil {
				return paths, fmt.Errorf("table %s: %w", t.name, err)
			}
			paths = append(paths, path)
		}
	}
	return paths, nil
}

func (p *Page) paperTables() []paperTable {
	s := p.Runs[0].Summary
	at := fmt.Sprintf("within %g ms of the %s, in %%, with 95 %% intervals over people", s.Rules.HeadlineMS, s.Rules.Anchor)
	list := []paperTable{scoreTable(s, p.Runs[0].Name+", "+at), strataTable(s, at), timingTable(s)}
	if len(p.Runs) > 1 {
		list = append(list, runsTable(p.Runs, at))
	}
	return list
}

// scoreCells prints the ratios and the interval of a row.
func scoreCells(r *eval.Score) []string {
	return []string{r.Recall.Percent(), r.Precision.Percent(), r.F1.Percent(), bounds(r.Low, r.High)}
}

func scoreTable(s *eval.Summary, caption string) paperTable {
	t := paperTable{name: "scores", caption: caption, words: 2,
		head: []string{"sounds", "average", "recall", "precision", "F1", "interval of F1", "TP", "FP", "FN"}}
	for _, r := range headlineRows(s) {
		row := append([]string{className(r.Class), aggregateName(r.Aggregate)}, scoreCells(&r)...)
		t.rows = append(t.rows, append(row, fmt.Sprint(r.TP), fmt.Sprint(r.FP), fmt.Sprint(r.FN)))
	}
	return t
}

func strataTable(s *eval.Summary, caption string) paperTable {
	t := paperTable{name: "strata", caption: "Both sounds, pooled, " + caption, words: 2,
		head: []string{"label", "value", "people", "recordings", "recall", "precision", "F1", "interval of F1"}}
	for _, r := range strataOf(s) {
		row := []string{r.Label, r.Value, fmt.Sprint(r.People), fmt.Sprint(r.Recordings)}
		t.rows = append(t.rows, append(row, scoreCells(&r.Score)...))
	}
	return t
}

func timingTable(s *eval.Summary) paperTable {
	t := paperTable{name: "timing", caption: "Predicted minus reference time, ms", words: 1,
		head: []string{"place", "pairs", "bias", "SD", "5 %", "25 %", "median", "75 %", "95 %"}}
	for _, r := range s.Timing {
		t.rows = append(t.rows, []string{r.Place, fmt.Sprint(r.N), signed(r.Bias), number(r.SD), signed(r.P5), signed(r.P25), signed(r.P50), signed(r.P75), signed(r.P95)})
	}
	return t
}

func runsTable(runs []Run, caption string) paperTable {
	t := paperTable{name: "runs", caption: "Both sounds, pooled, " + caption, words: 1,
		head: []string{"run", "recall", "precision", "F1", "interval of F1"}}
	for _, r := range runs {
		t.rows = append(t.rows, append([]string{r.Name}, scoreCells(&r.Summary.HeadlineRow)...))
	}
	return t
}

var markdownEscapes = strings.NewReplacer(`\`, `\\`, "|", `\|`, "\n", " ", "<", "&lt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`)

// markdown returns the table in the pipe syntax.
func (t *paperTable) markdown() string {
	var b strings.Builder
	line := func(cells []string) {
		b.WriteString("|")
		for _, c := range cells {
			b.WriteString(" " + markdownEscapes.Replace(c) + " |")
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "%s\n\n", markdownEscapes.Replace(t.caption))
	line(t.head)
	for i := range t.head {
		b.WriteString([]string{"|---", "|---:"}[min(max(i-t.words+1, 0), 1)])
	}
	b.WriteString("|\n")
	for _, row := range t.rows {
		line(row)
	}
	return b.String()
}

var latexEscapes = strings.NewReplacer(
	`\`, `\textbackslash{}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "{", `\{`, "}", `\}`,
	"~", `\textasciitilde{}`, "^", `\textasciicircum{}`, "\u2212", "$-$", "–", "--", "\n", " ",
)

// latex returns the table for the package booktabs.
func (t *paperTable) latex() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%% needs \\usepackage{booktabs}\n\\begin{table}\n\\caption{%s}\n\\begin{tabular}{%s%s}\n\\toprule\n",
		latexEscapes.Replace(t.caption), strings.Repeat("l", t.words), strings.Repeat("r", len(t.head)-t.words))
	line := func(cells []string) {
		escaped := make([]string, len(cells))
		for i, c := range cells {
			escaped[i] = latexEscapes.Replace(c)
		}
		b.WriteString(strings.Join(escaped, " & ") + ` \\` + "\n")
	}
	line(t.head)
	b.WriteString("\\midrule\n")
	for _, row := range t.rows {
		line(row)
	}
	b.WriteString("\\bottomrule\n\\end{tabular}\n\\end{table}\n")
	return b.String()
}

// csv returns the table as comma-separated values with a head (RFC 4180).
func (t *paperTable) csv() string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.WriteAll(append([][]string{t.head}, t.rows...)) // a strings.Builder takes all
	return b.String()
}
