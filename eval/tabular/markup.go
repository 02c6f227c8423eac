package tabular

import (
	"bytes"
	"fmt"
	"html"
	"strings"
)

// line writes the cells of a line between start and end.
func line(b *bytes.Buffer, start, between, end string, cells []string) {
	b.WriteString(start + strings.Join(cells, between) + end + "\n")
}

// heads returns the escaped names of the columns, each with its group.
func (t *Table) heads(escape func(string) string) []string {
	names := make([]string, len(t.Columns))
	for i := range t.Columns {
		names[i] = escape(t.Columns[i].head())
	}
	return names
}

// each returns one text for each column, by whether it holds words or numbers.
func (t *Table) each(words, numbers string) []string {
	texts := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		texts[i] = numbers
		if c.kind == word {
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
		texts := make([]string, len(row))
		for i, cell := range row {
			texts[i] = escapeMarkdown(cell.String())
		}
		line(b, "| ", " | ", " |", texts)
	}
	if t.Note != "" {
		fmt.Fprintf(b, "\n%s\n", escapeMarkdown(t.Note))
	}
}

// minus returns a number with a minus sign in place of the hyphen.
func minus(number string) string { return strings.ReplaceAll(number, "-", "−") }

// html writes an element table whose script can sort it by the attributes
// data-sort of its heads and data-value of its cells.
func (t *Table) html(b *bytes.Buffer) {
	fmt.Fprintf(b, "<table class=\"sortable\" id=\"%s-table\"><caption>%s</caption>\n<thead><tr>", html.EscapeString(t.Name), html.EscapeString(t.Title))
	t.htmlGroups(b)
	class := t.each("", ` class="n"`)
	sort := t.each("text", "number")
	for i, c := range t.Columns {
		fmt.Fprintf(b, `<th scope="col"%s data-sort="%s">%s</th>`, class[i], sort[i], html.EscapeString(c.Name))
	}
	b.WriteString("</tr></thead>\n<tbody>")
	for _, row := range t.Rows {
		b.WriteString("<tr>")
		for i, cell := range row {
			cell.html(b, t.Columns[i].kind, i == 0)
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table>\n")
	if t.Note != "" {
		fmt.Fprintf(b, "<p class=\"quiet\">%s</p>\n", html.EscapeString(t.Note))
	}
}

// htmlGroups writes a row with the common heads of columns, if there are any.
func (t *Table) htmlGroups(b *bytes.Buffer) {
	at := 0
	for _, g := range spans(t.Columns) {
		if g.start > at {
			fmt.Fprintf(b, `<td colspan="%d"></td>`, g.start-at)
		}
		fmt.Fprintf(b, `<th scope="colgroup" class="group" colspan="%d">%s</th>`, g.end-g.start, html.EscapeString(g.name))
		at = g.end
	}
	if at > 0 {
		if rest := len(t.Columns) - at; rest > 0 {
			fmt.Fprintf(b, `<td colspan="%d"></td>`, rest)
		}
		b.WriteString("</tr>\n<tr>")
	}
}

// html writes one cell; the first of a row is its head if it is a word.
func (c Cell) html(b *bytes.Buffer, of kind, first bool) {
	text := html.EscapeString(c.String())
	switch {
	case of == word && first:
		fmt.Fprintf(b, `<th scope="row">%s</th>`, text)
		return
	case of == word:
		fmt.Fprintf(b, "<td>%s</td>", text)
		return
	}
	value := ""
	if c.text != "" {
		value = fmt.Sprintf("%.6g", c.value)
	}
	text = minus(text)
	if c.low != "" {
		figure, bounds, _ := strings.Cut(text, " ")
		text = figure + ` <span class="quiet">` + bounds + "</span>"
	}
	fmt.Fprintf(b, `<td class="n" data-value="%s">%s</td>`, value, text)
}
