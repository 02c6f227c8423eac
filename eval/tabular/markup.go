package tabular

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html"
	"strings"

	"phonocycle/pipeline/printable"
)

// line writes the cells of a line between start and end.
func line(b *bytes.Buffer, start, between, end string, cells []string) {
	b.WriteString(start + strings.Join(cells, between) + end + "\n")
}

// heads returns the escaped names of the columns.
func (t *Table) heads(escape func(string) string) []string {
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = escape(c.Name)
	}
	return names
}

// cells returns the escaped cells of a row.
func cells(row []Cell, escape func(string) string) []string {
	texts := make([]string, len(row))
	for i, c := range row {
		texts[i] = escape(c.String())
	}
	return texts
}

// each returns one text for each column, by whether it holds words or numbers.
func (t *Table) each(words, numbers string) []string {
	texts := make([]string, len(t.Columns))
	for i := range t.Columns {
		texts[i] = numbers
		if t.kindOf(i) == word {
			texts[i] = words
		}
	}
	return texts
}

// escapeMarkdown keeps marks of Markdown from taking effect (CommonMark 0.31,
// and the tables, strikethrough and formulas of its common extensions).
var escapeMarkdown = strings.NewReplacer(`\`, `\\`, "|", `\|`, "*", `\*`, "_", `\_`, "`", "\\`", "<", `\<`,
	"[", `\[`, "]", `\]`, "&", `\&`, "~", `\~`, "$", `\$`, ">", `\>`, "#", `\#`).Replace

func (t *Table) markdown(b *bytes.Buffer) {
	fmt.Fprintf(b, "%s\n\n", escapeMarkdown(t.Title))
	line(b, "| ", " | ", " |", t.heads(escapeMarkdown))
	line(b, "| ", " | ", " |", t.each(":--", "--:"))
	for _, row := range t.Rows {
		line(b, "| ", " | ", " |", cells(row, escapeMarkdown))
	}
	if t.Note != "" {
		fmt.Fprintf(b, "\n%s\n", escapeMarkdown(t.Note))
	}
}

// escapeLaTeX writes the characters that LaTeX takes for commands, and those that
// not every font has. A bracket or a star at the start of a row would belong to
// the end of the row before.
var escapeLaTeX = strings.NewReplacer(
	`\`, `\textbackslash{}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "{", `\{`, "}", `\}`,
	"~", `\textasciitilde{}`, "^", `\textasciicircum{}`, "<", `\textless{}`, ">", `\textgreater{}`,
	"|", `\textbar{}`, "`", `\textasciigrave{}`, "[", "{[}", "*", "{*}", "--", "-{}-",
	"–", "--", "−", `$-$`, "±", `$\pm$`, "≤", `$\leq$`, "λ", `$\lambda$`).Replace

func (t *Table) latex(b *bytes.Buffer) {
	b.WriteString("% needs \\usepackage{booktabs}\n\\begin{table}\n\\centering\n")
	caption := t.Title
	if t.Note != "" {
		caption += ". " + t.Note
	}
	fmt.Fprintf(b, "\\caption{%s}\n\\begin{tabular}{%s}\n\\toprule\n", escapeLaTeX(caption), strings.Join(t.each("l", "r"), ""))
	line(b, "", " & ", ` \\`, t.heads(escapeLaTeX))
	b.WriteString("\\midrule\n")
	for _, row := range t.Rows {
		texts := cells(row, func(text string) string { return text })
		for i, c := range row {
			if c.kind != word {
				texts[i] = minus(texts[i])
			}
			texts[i] = escapeLaTeX(texts[i])
		}
		line(b, "", " & ", ` \\`, texts)
	}
	b.WriteString("\\bottomrule\n\\end{tabular}\n\\end{table}\n")
}

// minus returns a number with a minus sign in place of the hyphen.
func minus(number string) string { return strings.ReplaceAll(number, "-", "−") }

func (t *Table) csv(b *bytes.Buffer) {
	w := csv.NewWriter(b)
	var header []string
	for i, c := range t.Columns {
		header = append(header, printable.Cell(c.Name))
		if t.kindOf(i) == interval {
			header = append(header, c.Name+", low", c.Name+", high")
		}
	}
	rows := [][]string{header}
	for _, row := range t.Rows {
		var texts []string
		for i, c := range row {
			text := c.text
			if c.kind == word {
				text = printable.Cell(text)
			}
			texts = append(texts, text)
			if t.kindOf(i) == interval {
				texts = append(texts, c.low, c.high)
			}
		}
		rows = append(rows, texts)
	}
	_ = w.WriteAll(rows) // a bytes.Buffer takes all
}

// html writes an element table whose script can sort it by the attributes
// data-sort of its heads and data-value of its cells.
func (t *Table) html(b *bytes.Buffer) {
	fmt.Fprintf(b, "<table class=\"sortable\" id=\"%s-table\"><caption>%s</caption>\n<thead><tr>", html.EscapeString(t.Name), html.EscapeString(t.Title))
	class := t.each("", ` class="n"`)
	sort := t.each("text", "number")
	for i, name := range t.heads(html.EscapeString) {
		fmt.Fprintf(b, `<th scope="col"%s data-sort="%s">%s</th>`, class[i], sort[i], name)
	}
	b.WriteString("</tr></thead>\n<tbody>")
	for _, row := range t.Rows {
		b.WriteString("<tr>")
		for i, c := range row {
			c.html(b, class[i], i == 0)
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table>\n")
	if t.Note != "" {
		fmt.Fprintf(b, "<p class=\"quiet\">%s</p>\n", html.EscapeString(t.Note))
	}
}

// html writes one cell; the first of a row is its head.
func (c Cell) html(b *bytes.Buffer, class string, first bool) {
	if first && c.kind == word {
		fmt.Fprintf(b, `<th scope="row">%s</th>`, html.EscapeString(c.String()))
		return
	}
	value, text := "", html.EscapeString(c.String())
	if c.kind != word {
		text = minus(text)
		value = ` data-value=""`
		if c.text != "" {
			value = fmt.Sprintf(` data-value="%.6g"`, c.value)
		}
	}
	if c.low != "" {
		figure, bounds, _ := strings.Cut(text, " ")
		text = figure + ` <span class="quiet">` + bounds + "</span>"
	}
	fmt.Fprintf(b, "<td%s%s>%s</td>", class, value, text)
}
