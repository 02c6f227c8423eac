// Package tabular prints tables of figures for people: as text on a screen, and
// as Markdown, LaTeX, CSV and HTML for papers and pages.
//
// A [Table] says what its cells are, a word, a number or a number with its
// interval, and not how they look. Each format has one writer and one function
// that escapes what the format would take for its own marks.
package tabular

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Format is a way to write a table.
type Format string

// The formats.
const (
	Text     Format = "text"     // aligned columns for a screen
	Markdown Format = "markdown" // pipe table
	LaTeX    Format = "latex"    // table of the package booktabs
	CSV      Format = "csv"      // RFC 4180, without title and note; an interval takes two columns more
	HTML     Format = "html"     // element table
)

// writers holds the file extension and the writer of each format.
var writers = map[Format]struct {
	extension string
	write     func(*Table, *bytes.Buffer)
}{
	Text:     {".txt", (*Table).text},
	Markdown: {".md", (*Table).markdown},
	LaTeX:    {".tex", (*Table).latex},
	CSV:      {".csv", (*Table).csv},
	HTML:     {".html", (*Table).html},
}

// FileFormats are the formats in which tables are written as files.
var FileFormats = []Format{Markdown, LaTeX, CSV}

// ParseFormat returns the format of a name.
func ParseFormat(name string) (Format, error) {
	if _, ok := writers[Format(name)]; !ok {
		return "", fmt.Errorf("unknown table format %q: want markdown, latex, csv, html or text", name)
	}
	return Format(name), nil
}

// Extension returns the extension of files of a format, such as ".md".
func (f Format) Extension() string { return writers[f].extension }

// Table is a table with its title and a note on how to read it.
type Table struct {
	Name        string // of its file, without extension
	Title, Note string
	Columns     []Column
	Rows        [][]Cell // one cell for each column
}

// Column is the head of a column.
type Column struct {
	Name   string
	Screen Screen
}

// Screen says how a column is shown as text, where width is scarce. All other
// formats show it in full.
type Screen uint8

// The ways to show a column on a screen.
const (
	Full   Screen = iota
	Brief         // numbers without their intervals
	Hidden        // not at all
)

// Field makes a column of a table whose rows stand for values of type T.
type Field[T any] struct {
	Column
	cell func(T) Cell
}

// On says how a screen shows the column.
func (f Field[T]) On(s Screen) Field[T] {
	f.Screen = s
	return f
}

// Via makes a column of values of type U from one of T.
func Via[T, U any](f Field[T], of func(U) T) Field[U] {
	return Field[U]{f.Column, func(v U) Cell { return f.cell(of(v)) }}
}

// Words makes a column of text.
func Words[T any](name string, of func(T) string) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Word(of(v)) }}
}

// Counts makes a column of whole numbers.
func Counts[T any](name string, of func(T) int) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Number(float64(of(v)), Whole) }}
}

// Numbers makes a column of numbers; NaN is a dash.
func Numbers[T any, F ~float64](name string, style Style, of func(T) F) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Number(of(v), style) }}
}

// Intervals makes a column of numbers with their intervals.
func Intervals[T any, F ~float64](name string, style Style, of func(T) (value, low, high F)) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell {
		value, low, high := of(v)
		return Interval(value, low, high, style)
	}}
}

// Fill sets the columns of t, and adds one row per value.
func Fill[T any](t Table, values []T, fields ...Field[T]) Table {
	t.Columns = nil
	for _, f := range fields {
		t.Columns = append(t.Columns, f.Column)
	}
	for _, v := range values {
		var row []Cell
		for _, f := range fields {
			row = append(row, f.cell(v))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// Cell is a word, a number, or a number with its interval. The zero value is a
// cell without content.
type Cell struct {
	kind            kind
	text, low, high string
	value           float64 // by which a reader sorts
}

type kind uint8

const (
	none kind = iota
	number
	interval
	word
)

// Word returns a cell of text.
func Word(text string) Cell { return Cell{kind: word, text: text} }

// Number returns a cell of a number, or a dash for NaN.
func Number[F ~float64](v F, style Style) Cell {
	c := Cell{kind: number, value: float64(v)}
	if !math.IsNaN(c.value) {
		c.text = style(c.value)
	}
	return c
}

// Interval returns a cell of a number with its interval, which is left out where
// one of its ends is NaN.
func Interval[F ~float64](v, low, high F, style Style) Cell {
	c := Number(v, style)
	c.kind = interval
	if c.text != "" && !math.IsNaN(float64(low)) && !math.IsNaN(float64(high)) {
		c.low, c.high = style(float64(low)), style(float64(high))
	}
	return c
}

// Style prints a number, as [Percent] does.
type Style func(float64) string

// Percent prints a fraction in percent, with one decimal.
func Percent(v float64) string { return fmt.Sprintf("%.1f", 100*v) }

// Points prints a difference of fractions in percentage points.
func Points(v float64) string { return fmt.Sprintf("%+.2f", 100*v) }

// Whole prints a whole number.
func Whole(v float64) string { return fmt.Sprintf("%.0f", v) }

// Tenths prints one decimal.
func Tenths(v float64) string { return fmt.Sprintf("%.1f", v) }

// Thousandths prints three decimals.
func Thousandths(v float64) string { return fmt.Sprintf("%.3f", v) }

// Signed prints one decimal and the sign.
func Signed(v float64) string { return fmt.Sprintf("%+.1f", v) }

// PValue prints p to two digits, and as below 0.0001 where it is.
func PValue(v float64) string {
	if v < 0.0001 {
		return "< 0.0001"
	}
	return fmt.Sprintf("%.2g", v)
}

// dash stands for what is not there.
const dash = "–"

// String returns the cell as it stands in one column.
func (c Cell) String() string {
	switch {
	case c.text == "":
		return dash
	case c.low == "":
		return c.text
	}
	return fmt.Sprintf("%s (%s to %s)", c.text, c.low, c.high)
}

// kindOf returns the kind of a column, which is that of its cells: words if one
// of them is a word, otherwise intervals if one of them has one.
func (t *Table) kindOf(column int) kind {
	k := none
	for _, row := range t.Rows {
		k = max(k, row[column].kind)
	}
	if k == none {
		return word
	}
	return k
}

// Write writes the table in a format.
func (t *Table) Write(w io.Writer, format Format) error {
	f, ok := writers[format]
	if !ok {
		_, err := ParseFormat(string(format))
		return err
	}
	var b bytes.Buffer
	f.write(t, &b)
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("table %s: %w", t.Name, err)
	}
	return nil
}

// text writes aligned columns under the title.
func (t *Table) text(b *bytes.Buffer) {
	Wrap(b, "", t.Title)
	lines := make([][]string, len(t.Rows)+1)
	var isWord []bool
	for i, c := range t.Columns {
		if c.Screen == Hidden {
			continue
		}
		lines[0] = append(lines[0], c.Name)
		isWord = append(isWord, t.kindOf(i) == word)
		for r, row := range t.Rows {
			cell := row[i]
			if c.Screen == Brief {
				cell.low = ""
			}
			lines[r+1] = append(lines[r+1], cell.String())
		}
	}
	for _, line := range lines {
		var text strings.Builder
		for i, cell := range line {
			if i > 0 {
				text.WriteString("  ")
			}
			column := slices.MaxFunc(lines, func(x, y []string) int { return letters(x[i]) - letters(y[i]) })
			space := strings.Repeat(" ", letters(column[i])-letters(cell))
			if isWord[i] {
				text.WriteString(cell + space)
			} else {
				text.WriteString(space + cell)
			}
		}
		fmt.Fprintln(b, strings.TrimRight(text.String(), " "))
	}
	if t.Note != "" {
		Wrap(b, "  ", t.Note)
	}
}

// letters returns the width of text on a screen.
func letters(text string) int { return len([]rune(text)) }

// Wrap writes text in lines of at most 98 columns behind a heading.
func Wrap(b *bytes.Buffer, heading, text string) {
	const width = 98
	indent := strings.Repeat(" ", letters(heading))
	line, empty := heading, true
	for _, word := range strings.Fields(text) {
		if !empty && letters(line)+1+letters(word) > width {
			fmt.Fprintln(b, strings.TrimRight(line, " "))
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	fmt.Fprintln(b, line)
}
