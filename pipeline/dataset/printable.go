package dataset

import (
	"strconv"
	"strings"
	"unicode"
)

// Printable returns name as text that any table and terminal can hold. File
// systems allow any bytes in names; a name that is not UTF-8, or holds
// characters that do not print, is written with the escapes of Go and C, as in
// caf\xe9 or a\nb.
func Printable(name string) string {
	// What is not UTF-8 reads as U+FFFD, which prints and so is asked for.
	if strings.IndexFunc(name, func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }) < 0 {
		return name
	}
	quoted := strconv.Quote(name)
	return strings.ReplaceAll(quoted[1:len(quoted)-1], `\"`, `"`)
}

// shorten cuts the content of a file to a length that a message can quote.
func shorten(s string) string {
	const maxRunes = 40
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > maxRunes {
		return string(r[:maxRunes]) + "…"
	}
	return s
}
