package printable

import (
	"strconv"
	"strings"
)

// formulaMarks begin what a spreadsheet takes for a formula (OWASP, CSV
// Injection: = + - @, tab and line ends, and the wide forms of East Asia).
const formulaMarks = "=+-@\t\r\n＝＋－＠"

// Cell returns a text as a cell of comma-separated values that no spreadsheet
// runs: an apostrophe goes before a mark of formulas, and before apostrophes that
// lead to one. So a reader gets the text back by taking one apostrophe away
// wherever apostrophes lead to such a mark. A number stays as it is.
func Cell(text string) string {
	if bare := strings.TrimLeft(text, "'"); bare == "" || !strings.ContainsRune(formulaMarks, []rune(bare)[0]) {
		return text
	}
	if _, err := strconv.ParseFloat(text, 64); err == nil {
		return text
	}
	return "'" + text
}
