package eval

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
)

// TableFormat is how a table for a paper is written.
type TableFormat string

// The formats of tables.
const (
	Markdown TableFormat = "markdown" // pipe table
	LaTeX    TableFormat = "latex"    // table of the package booktabs
	CSV      TableFormat = "csv"      // RFC 4180; each interval as two columns
)

// TableFormats lists the formats.
var TableFormats = []TableFormat{Markdown, LaTeX, CSV}

// ParseTableFormat returns the format of a name.
func ParseTableFormat(name string) (TableFormat, error) {
	if f := TableFormat(name); slices.Contains(TableFormats, f) {
		return f, nil
	}
	return "", fmt.Errorf("unknown format of tables %q: want markdown, latex or csv", name)
}

// paperTable is a table for a paper.
type paperTable struct {
	title, note string
	columns     []paperColumn
	rows        [][]paperCell
}

type paperColumn struct {
	name     string
	interval bool // cells are figures with an interval
	words    bool // cells are words, set left
}

// paperCell is a word, or a figure with its interval.
type paperCell struct{ text, low, high string }

func word(format string, values ...any) paperCell {
	return paperCell{text: fmt.Sprintf(format, values...)}
}

// figure returns a figure and its interval, as format prints them.
func figure(format func(Ratio) string, value, low, high Ratio) paperCell {
	if value.Null() {
		return paperCell{}
	}
	if low.Null() {
		return paperCell{text: format(value)}
	}
	return paperCell{format(value), format(low), format(high)}
}

// together returns the cell as it stands in one column.
func (c paperCell) together() string {
	switch {
	case c.text == "":
		return "–"
	case c.low == "":
		return c.text
	}
	return fmt.Sprintf("%s (%s to %s)", c.text, c.low, c.high)
}

// write writes the table in a format.
func (t *paperTable) write(w io.Writer, format TableFormat) error {
	var b bytes.Buffer
	var err error
	switch format {
	case Markdown:
		t.markdown(&b)
	case LaTeX:
		t.latex(&b)
	case CSV:
		err = t.csv(&b)
	default:
		_, err = ParseTableFormat(string(format))
	}
	if err == nil {
		_, err = w.Write(b.Bytes())
	}
	if err != nil {
		return fmt.Errorf("table for a paper: %w", err)
	}
	return nil
}

// markdownEscape keeps marks of Markdown from taking effect.
var markdownEscape = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "`", "\\`", "<", `\<`, "\n", " ")

func (t *paperTable) markdown(b *bytes.Buffer) {
	fmt.Fprintf(b, "%s\n\n|", markdownEscape.Replace(t.title))
	for _, c := range t.columns {
		fmt.Fprintf(b, " %s |", markdownEscape.Replace(c.name))
	}
	b.WriteString("\n|")
	for _, c := range t.columns {
		if c.words {
			b.WriteString(" :-- |")
		} else {
			b.WriteString(" --: |")
		}
	}
	for _, row := range t.rows {
		b.WriteString("\n|")
		for _, cell := range row {
			fmt.Fprintf(b, " %s |", markdownEscape.Replace(cell.together()))
		}
	}
	fmt.Fprintf(b, "\n\n%s\n", markdownEscape.Replace(t.note))
}

// latexEscape writes the characters that LaTeX takes for commands, and those
// that not every font has.
var latexEscape = strings.NewReplacer(
	`\`, `\textbackslash{}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "{", `\{`, "}", `\}`,
	"~", `\textasciitilde{}`, "^", `\textasciicircum{}`, "<", `\textless{}`, ">", `\textgreater{}`,
	"|", `\textbar{}`, "`", `\textasciigrave{}`, "–", "--", "−", `$-$`, "±", `$\pm$`, "≤", `$\leq$`, "\n", " ")

func (t *paperTable) latex(b *bytes.Buffer) {
	b.WriteString("% needs \\usepackage{booktabs}\n\\begin{table}\n\\centering\n")
	fmt.Fprintf(b, "\\caption{%s. %s}\n\\begin{tabular}{", latexEscape.Replace(t.title), latexEscape.Replace(t.note))
	for _, c := range t.columns {
		if c.words {
			b.WriteByte('l')
		} else {
			b.WriteByte('r')
		}
	}
	b.WriteString("}\n\\toprule\n")
	line := func(cells int, text func(int) string) {
		for i := range cells {
			if i > 0 {
				b.WriteString(" & ")
			}
			b.WriteString(latexEscape.Replace(text(i)))
		}
		b.WriteString(" \\\\\n")
	}
	line(len(t.columns), func(i int) string { return t.columns[i].name })
	b.WriteString("\\midrule\n")
	for _, row := range t.rows {
		line(len(row), func(i int) string {
			if t.columns[i].words {
				return row[i].together()
			}
			return strings.ReplaceAll(row[i].together(), "-", "−") // set as minus, not as hyphen
		})
	}
	b.WriteString("\\bottomrule\n\\end{tabular}\n\\end{table}\n")
}

// csv leaves out title and note, so that any program reads the table.
func (t *paperTable) csv(b *bytes.Buffer) error {
	w := csv.NewWriter(b)
	var header []string
	for _, c := range t.columns {
		header = append(header, c.name)
		if c.interval {
			header = append(header, c.name+", low", c.name+", high")
		}
	}
	if err := w.Write(header); err != nil {
		return err
	}
	for _, row := range t.rows {
		var cells []string
		for i, cell := range row {
			cells = append(cells, cell.text)
			if t.columns[i].interval {
				cells = append(cells, cell.low, cell.high)
			}
		}
		if err := w.Write(cells); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}
