package tabular

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// screenWidth is the number of columns of a screen that text takes at most, but for
// long names.
const screenWidth = 100

// text writes aligned columns under the title, in blocks if they are too many for
// the width of a screen.
func (t *Table) text(b *bytes.Buffer) {
	Wrap(b, "", t.Title)
	var columns []Column
	var cells [][]string // of each column
	var width []float64
	for i, c := range t.Columns {
		if c.Screen == Hidden {
			continue
		}
		mark := 0 // numbers stand below each other, with a mark or without
		for _, row := range t.Rows {
			mark = max(mark, len(row[i].footnote()))
		}
		texts := []string{c.Name}
		for _, row := range t.Rows {
			cell := row[i]
			if c.Screen == Brief {
				cell.low = ""
			}
			texts = append(texts, cell.String()+strings.Repeat(" ", mark-len(cell.footnote())))
		}
		columns, cells = append(columns, c), append(cells, texts)
		width = append(width, float64(len(gap)+widest(texts)))
	}
	widen(columns, width, func(name string) float64 { return float64(letters(name) + len(gap)) })
	for i, block := range blocks(columns, width, screenWidth+float64(len(gap))) {
		if i > 0 {
			fmt.Fprintln(b)
		}
		textBlock(b, pick(columns, block), pick(cells, block))
	}
	if t.Note != "" {
		Wrap(b, "  ", t.Note)
	}
}

// gap stands between two columns.
const gap = "  "

// textBlock writes aligned columns.
func textBlock(b *bytes.Buffer, columns []Column, cells [][]string) {
	widths := make([]int, len(columns))
	for i := range cells {
		widths[i] = widest(cells[i])
	}
	groups := spans(columns)
	for _, g := range groups { // a group is as wide as its name
		widths[g.end-1] += max(0, letters(g.name)-g.width(widths))
	}
	if groups != nil {
		var line strings.Builder
		at := 0
		for _, g := range groups {
			for ; at < g.start; at++ {
				line.WriteString(strings.Repeat(" ", widths[at]) + gap)
			}
			line.WriteString(ruled(g.name, g.width(widths)) + gap)
			at = g.end
		}
		fmt.Fprintln(b, strings.TrimRight(line.String(), " "))
	}
	for r := range cells[0] {
		var line strings.Builder
		for i, c := range columns {
			space := strings.Repeat(" ", widths[i]-letters(cells[i][r]))
			if c.kind == word {
				line.WriteString(cells[i][r] + space + gap)
			} else {
				line.WriteString(space + cells[i][r] + gap)
			}
		}
		fmt.Fprintln(b, strings.TrimRight(line.String(), " "))
	}
}

// ruled puts a name into the middle of a line of dashes where there is room.
func ruled(name string, width int) string {
	rest := width - letters(name) - 2
	if rest < 0 {
		return name + strings.Repeat(" ", width-letters(name))
	}
	return strings.Repeat("-", rest/2) + " " + name + " " + strings.Repeat("-", rest-rest/2)
}

// width returns what a group takes on a screen.
func (g *span) width(widths []int) int {
	total := -len(gap)
	for _, w := range widths[g.start:g.end] {
		total += w + len(gap)
	}
	return total
}

// pick returns the elements of list at some positions.
func pick[T any](list []T, positions []int) []T {
	picked := make([]T, len(positions))
	for i, p := range positions {
		picked[i] = list[p]
	}
	return picked
}

// widest returns the width of the widest text.
func widest(texts []string) int {
	return letters(slices.MaxFunc(texts, func(x, y string) int { return letters(x) - letters(y) }))
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

// Plural returns n with the word for one or for many.
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
