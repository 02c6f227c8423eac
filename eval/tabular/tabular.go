// Package tabular prints tables of figures for people: as text on a screen, as
// Markdown, LaTeX and HTML for papers and pages, and as CSV for programs.
//
// A [Table] says what its cells are, a word, a number or a number with its
// interval, and not how they look. Each format has one writer and one function
// that escapes what the format would take for its own marks.
package tabular

import (
	"fmt"
	"math"
	"strings"

	"phonocycle/pipeline/printable"
)

// Table is a table with its title and a note on how to read it.
type Table struct {
	Name        string // of its file, without extension
	Title, Note string
	Columns     []Column
	Rows        [][]Cell // one cell for each column
}

// AddNote adds a sentence to the note.
func (t *Table) AddNote(text string) { t.Note = strings.TrimSpace(t.Note + " " + text) }

// Column is the head of a column.
type Column struct {
	Group  string // common head of neighbouring columns, empty for none
	Name   string
	Screen Screen

	key  string // in CSV, where it is not the name
	unit string // in CSV
	kind kind
}

// Screen says how a column is shown where width is scarce. CSV always has it in
// full.
type Screen uint8

// The ways to show a column.
const (
	Full        Screen = iota
	Brief              // as text, numbers without their intervals
	Hidden             // not as text
	NoIntervals        // but in CSV, numbers without their intervals
	OnlyCSV            // not but in CSV, which has no caption
)

// Field makes a column of a table whose rows stand for values of type T.
type Field[T any] struct {
	Column
	cell func(T) Cell
}

// On says how the column is shown where width is scarce.
func (f Field[T]) On(s Screen) Field[T] {
	f.Screen = s
	return f
}

// Under puts the column under a head that it shares with its neighbours.
func (f Field[T]) Under(group string) Field[T] {
	f.Group = group
	return f
}

// Renamed gives the column another name.
func (f Field[T]) Renamed(name string) Field[T] {
	f.Name = name
	return f
}

// CSV sets the name of the column in CSV, by default that of the column.
func (f Field[T]) CSV(name string) Field[T] {
	f.key = name
	return f
}

// Marked sets marks of footnotes after the cells, empty for none. CSV has none.
func (f Field[T]) Marked(mark func(T) string) Field[T] {
	cell := f.cell
	f.cell = func(v T) Cell {
		c := cell(v)
		c.mark = mark(v)
		return c
	}
	return f
}

// Via makes a column of values of type U from one of T.
func Via[T, U any](f Field[T], of func(U) T) Field[U] {
	return Field[U]{f.Column, func(v U) Cell { return f.cell(of(v)) }}
}

// Words makes a column of text, in which what does not print is escaped.
func Words[T any](name string, of func(T) string) Field[T] {
	return Field[T]{Column{Name: name, kind: word}, func(v T) Cell { return Cell{text: printable.Name(of(v))} }}
}

// Counts makes a column of whole numbers.
func Counts[T any](name string, of func(T) int) Field[T] {
	return Numbers(name, Whole, func(v T) float64 { return float64(of(v)) })
}

// Numbers makes a column of numbers; NaN stands for none.
func Numbers[T any, F ~float64](name string, style Style, of func(T) F) Field[T] {
	return Field[T]{Column{Name: name, unit: style.unit, kind: number}, func(v T) Cell { return Number(of(v), style) }}
}

// Intervals makes a column of numbers with their intervals, which are left out where
// one of their ends is NaN.
func Intervals[T any, F ~float64](name string, style Style, of func(T) (value, low, high F)) Field[T] {
	return Field[T]{Column{Name: name, unit: style.unit, kind: interval}, func(v T) Cell {
		value, low, high := of(v)
		c := Number(value, style)
		if c.text != "" && !math.IsNaN(float64(low)) && !math.IsNaN(float64(high)) {
			c.low, c.high = style.print(float64(low)), style.print(float64(high))
		}
		return c
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
	text, low, high string
	mark            string  // of a footnote
	value           float64 // of a number, by which a reader sorts
	plain           string  // the same in CSV
}

type kind uint8

const (
	word kind = iota
	number
	interval
)

// Number returns a cell of a number, without content for NaN.
func Number[F ~float64](v F, style Style) Cell {
	c := Cell{value: float64(v)}
	if !math.IsNaN(c.value) {
		c.text, c.plain = style.print(c.value), style.csv(c.value)
	}
	return c
}

// dash stands for what is not there.
const dash = "–"

// String returns the cell as it stands in one column.
func (c Cell) String() string {
	text := c.text
	switch {
	case text == "":
		text = dash
	case c.low != "":
		text = fmt.Sprintf("%s (%s to %s)", text, c.low, c.high)
	}
	return text + c.footnote()
}

// footnote returns the mark of a footnote as it stands after a cell.
func (c *Cell) footnote() string {
	if c.mark == "" {
		return ""
	}
	return " [" + c.mark + "]"
}

// head returns the name of a column that stands without its group.
func (c *Column) head() string {
	if c.Group == "" {
		return c.Name
	}
	return c.Group + ": " + c.Name
}

// printed returns the table as all formats but CSV show it.
func (t Table) printed() Table {
	p := Table{Name: t.Name, Title: t.Title, Note: t.Note, Rows: make([][]Cell, len(t.Rows))}
	for i, c := range t.Columns {
		if c.Screen == OnlyCSV {
			continue
		}
		p.Columns = append(p.Columns, c)
		for r, row := range t.Rows {
			cell := row[i]
			if c.Screen == NoIntervals {
				cell.low, cell.high = "", ""
			}
			p.Rows[r] = append(p.Rows[r], cell)
		}
	}
	return p
}
