package tabular

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"strings"
	"unicode"

	"phonocycle/pipeline/printable"
)

// csv writes comma-separated values. Names of columns are in lower case with
// underscores and end with the unit. A number with its interval takes three
// columns, of which the others are named low and high. Numbers have an ASCII minus
// and no plus; what is missing is an empty cell. All columns are written.
func (t *Table) csv(b *bytes.Buffer) {
	w := csv.NewWriter(b)
	var header []string
	for i := range t.Columns {
		c := &t.Columns[i]
		header = append(header, c.csvName(""))
		if c.kind == interval {
			header = append(header, c.csvName("low"), c.csvName("high"))
		}
	}
	rows := [][]string{header}
	for _, row := range t.Rows {
		var texts []string
		for i, cell := range row {
			switch t.Columns[i].kind {
			case word:
				texts = append(texts, printable.Cell(cell.text))
			case number:
				texts = append(texts, cell.plain)
			case interval:
				texts = append(texts, cell.plain, trimSign(cell.low), trimSign(cell.high))
			}
		}
		rows = append(rows, texts)
	}
	_ = w.WriteAll(rows) // a bytes.Buffer takes all
}

// csvName returns the name of a column in CSV: that of its group, its own, which part
// of an interval it is, and the unit.
func (c *Column) csvName(part string) string {
	return snake(strings.Join([]string{c.Group, cmp.Or(c.key, c.Name), part, c.unit}, " "))
}

// snake joins the words of a text with underscores, in lower case.
func snake(text string) string {
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return strings.ToLower(strings.Join(words, "_"))
}
