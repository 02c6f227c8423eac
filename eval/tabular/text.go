package tabular

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

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

// Plural returns n with the word for one or for many.
func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
