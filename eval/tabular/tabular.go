// Package tabular prints tables of figures for people: as text on a screen, and
// as Markdown, LaTeX, CSV and HTML for papers and pages.
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

// Words makes a column of text, in which what does not print is escaped.
func Words[T any](name string, of func(T) string) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Cell{kind: word, text: printable.Name(of(v))} }}
}

// Counts makes a column of whole numbers.
func Counts[T any](name string, of func(T) int) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Number(float64(of(v)), Whole) }}
}

// Numbers makes a column of numbers; NaN is a dash.
func Numbers[T any, F ~float64](name string, style Style, of func(T) F) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell { return Number(of(v), style) }}
}

// Intervals makes a column of numbers with their intervals, which are left out where
// one of their ends is NaN.
func Intervals[T any, F ~float64](name string, style Style, of func(T) (value, low, high F)) Field[T] {
	return Field[T]{Column{Name: name}, func(v T) Cell {
		value, low, high := of(v)
		c := Number(value, style)
		c.kind = interval
		if c.text != "" && !math.IsNaN(float64(low)) && !math.IsNaN(float64(high)) {
			c.low, c.high = style(float64(low)), style(float64(high))
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

// Number returns a cell of a number, or a dash for NaN.
func Number[F ~float64](v F, style Style) Cell {
	c := Cell{kind: number, value: float64(v)}
	if !math.IsNaN(c.value) {
		c.text = style(c.value)
	}
	return c
}

// Style prints a number, as [Percent] does.
type Style func(float64) string

// Percent prints a fraction in percent, with one decimal.
func Percent(v float64) string { return fmt.Sprintf("%.1f", 100*v) }

// Points prints a difference of fractions in percentage points, to the tenth: more
// digits of an interval would change with the seed of its resamples.
func Points(v float64) string { return fmt.Sprintf("%+.1f", 100*v) }

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
