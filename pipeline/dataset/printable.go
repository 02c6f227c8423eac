package dataset

import (
	"strings"

	"phonocycle/pipeline/printable"
)

// Printable returns name as text that any table and terminal can hold. File
// systems allow any bytes in names.
func Printable(name string) string { return printable.Name(name) }

// shorten cuts the content of a file to a length that a message can quote.
func shorten(s string) string {
	const maxRunes = 40
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > maxRunes {
		return string(r[:maxRunes]) + "…"
	}
	return s
}
