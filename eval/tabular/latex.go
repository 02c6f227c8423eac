package tabular

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Widths in points of 1/72.27 inch, in the fonts of LaTeX's standard classes at
// 10 pt. A table that is wider than a column of a journal in two columns is set
// in the smaller size, and in blocks if it is then wider than the text of a page
// in one column.
const (
	columnWidth = 240
	pageWidth   = 345
	normalSize  = 10
	smallSize   = 8
	normalGap   = 12 // between columns
	smallGap    = 6

	// rowsHeight is what a page holds below a caption, of lines of the two sizes.
	rowsHeight = 430
	normalLine = 12
	smallLine  = 9.5

	// longWords is the number of letters from which words are set in lines.
	longWords = 40
	lineWidth = 150
)

// escapeLaTeX writes the characters that LaTeX takes for commands, and those that
// not every font has. A bracket or a star at the start of a row would belong to
// the end of the row before.
var escapeLaTeX = strings.NewReplacer(
	`\`, `\textbackslash{}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "{", `\{`, "}", `\}`,
	"~", `\textasciitilde{}`, "^", `\textasciicircum{}`, "<", `\textless{}`, ">", `\textgreater{}`,
	"|", `\textbar{}`, "`", `\textasciigrave{}`, "[", "{[}", "*", "{*}", "--", "-{}-",
	"–", "--", "−", `$-$`, "±", `$\pm$`, "≤", `$\leq$`, "≥", `$\geq$`, "×", `$\times$`, "λ", `$\lambda$`, "…", `\ldots{}`).Replace

// latexColumn is a column as LaTeX sets it.
type latexColumn struct {
	spec, name string
	cells      []string
	ems        float64 // of the widest line
	long       bool    // set in lines
}

// latex writes a table of the package booktabs. Its first line says how wide a text
// it fits.
func (t *Table) latex(b *bytes.Buffer) {
	columns := make([]latexColumn, len(t.Columns))
	natural := 0.0
	for i := range columns {
		columns[i] = t.latexColumn(i)
		natural += columns[i].width(normalSize) + normalGap
	}
	environment, size, all := "table", "", [][]int{nil}
	for i := range columns {
		all[0] = append(all[0], i)
	}
	takes := natural
	if natural > columnWidth {
		environment, size = "table*", fmt.Sprintf("\\footnotesize\n\\setlength{\\tabcolsep}{%dpt}\n", smallGap/2)
		widths := make([]float64, len(columns))
		for i := range columns {
			widths[i] = columns[i].width(smallSize) + smallGap
		}
		widen(t.Columns, widths, func(name string) float64 { return ems(name)*smallSize + smallGap })
		all = blocks(t.Columns, widths, pageWidth)
		takes = 0
		for _, block := range all {
			takes = max(takes, sum(pick(widths, block)))
		}
	}
	const pointsPerMM = 72.27 / 25.4
	fmt.Fprintf(b, "%% needs \\usepackage{booktabs} and a text width of %.0f mm\n", math.Ceil(takes/pointsPerMM))
	caption := t.Title
	if t.Note != "" {
		caption += ". " + t.Note
	}
	for k, rows := range t.pages(columns, len(all), size != "") {
		if k > 0 {
			caption = t.Title + ", continued"
		}
		fmt.Fprintf(b, "\\begin{%s}\n\\centering\n\\caption{%s}\n\\smallskip\n%s", environment, escapeLaTeX(caption), size)
		for i, block := range all {
			if i > 0 {
				b.WriteString("\n\\medskip\n\n")
			}
			latexBlock(b, pick(t.Columns, block), pick(columns, block), rows)
		}
		fmt.Fprintf(b, "\\end{%s}\n", environment)
	}
}

// pages divides the rows of a table that is set in some blocks by pages, each as the
// first row and the one after the last.
func (t *Table) pages(columns []latexColumn, blocks int, small bool) [][2]int {
	size, line := float64(normalSize), float64(normalLine)
	if small {
		size, line = smallSize, smallLine
	}
	list := [][2]int{{0, 0}}
	used := 0.0
	for r := range t.Rows {
		lines := 1.0
		for i := range columns {
			if columns[i].long {
				lines = max(lines, math.Ceil(1.1*ems(t.Rows[r][i].String())*size/lineWidth)) // lines end with words
			}
		}
		height := float64(blocks) * lines * line
		if used += height; used > rowsHeight && r > 0 {
			list = append(list, [2]int{r, r})
			used = height
		}
		list[len(list)-1][1]++
	}
	return list
}

// latexColumn returns a column with its cells escaped.
func (t *Table) latexColumn(i int) latexColumn {
	c := &t.Columns[i]
	l := latexColumn{spec: "r", name: escapeLaTeX(c.Name)}
	texts := []string{c.Name}
	for _, row := range t.Rows {
		text := row[i].String()
		if c.kind != word {
			text = minus(text)
		}
		texts = append(texts, text)
		l.cells = append(l.cells, escapeLaTeX(text))
	}
	if c.kind == word {
		l.spec = "l"
		l.long = slices.ContainsFunc(texts, func(text string) bool { return letters(text) > longWords })
	}
	if l.long {
		l.spec = fmt.Sprintf("p{%dpt}", lineWidth)
		for k, text := range l.cells {
			l.cells[k] = `{\raggedright ` + text + `\par}`
		}
	}
	for _, text := range texts {
		l.ems = max(l.ems, ems(text))
	}
	return l
}

// width returns the width of a column in a size of font.
func (l *latexColumn) width(size float64) float64 {
	if l.long {
		return lineWidth
	}
	return l.ems * size
}

// ems estimates the width of a text in units of the size of the font, by kinds of
// letters, after the metrics of Computer Modern at 8 pt.
func ems(text string) float64 {
	total := 0.0
	for _, r := range text {
		switch {
		case strings.ContainsRune(".,:;'|!ijl", r):
			total += 0.3
		case strings.ContainsRune(" ()[]tfrsI-", r):
			total += 0.4
		case r >= 'A' && r <= 'Z':
			total += 0.75
		case strings.ContainsRune("mw−+=%<>&#@", r):
			total += 0.85
		default:
			total += 0.53
		}
	}
	return total
}

// latexBlock writes some columns and rows of a table.
func latexBlock(b *bytes.Buffer, columns []Column, set []latexColumn, rows [2]int) {
	var specs, names []string
	for _, l := range set {
		specs, names = append(specs, l.spec), append(names, l.name)
	}
	fmt.Fprintf(b, "\\begin{tabular}{%s}\n\\toprule\n", strings.Join(specs, ""))
	if groups := spans(columns); groups != nil {
		var heads, rules []string
		at := 0
		for _, g := range groups {
			heads = append(heads, slices.Repeat([]string{""}, g.start-at)...)
			heads = append(heads, fmt.Sprintf("\\multicolumn{%d}{c}{%s}", g.end-g.start, escapeLaTeX(g.name)))
			rules = append(rules, fmt.Sprintf("\\cmidrule(lr){%d-%d}", g.start+1, g.end))
			at = g.end
		}
		heads = append(heads, slices.Repeat([]string{""}, len(columns)-at)...)
		line(b, "", " & ", ` \\`, heads)
		line(b, "", " ", "", rules)
	}
	line(b, "", " & ", ` \\`, names)
	b.WriteString("\\midrule\n")
	for r := rows[0]; r < rows[1]; r++ {
		var cells []string
		for _, l := range set {
			cells = append(cells, l.cells[r])
		}
		line(b, "", " & ", ` \\`, cells)
	}
	b.WriteString("\\bottomrule\n\\end{tabular}\n")
}
