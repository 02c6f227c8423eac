// Package printable makes text safe to show. Names and labels come from files
// of other people; a terminal takes some of their characters for commands (ESC
// and the other control characters, C0 and C1), and some change the order in
// which the rest is read (marks of direction) or break the line. They are
// written as escapes, such as \x1b or \u202e.
package printable

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Name returns a name on one line: a name that is not UTF-8, or holds characters
// that do not print, is written with the escapes of Go and C, as in caf\xe9 or
// a\nb.
func Name(name string) string {
	// What is not UTF-8 reads as U+FFFD, which prints and so is asked for.
	if strings.IndexFunc(name, func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }) < 0 {
		return name
	}
	quoted := strconv.Quote(name)
	return strings.ReplaceAll(quoted[1:len(quoted)-1], `\"`, `"`)
}

// shown reports whether a character of a text of several lines is shown as it is.
func shown(r rune) bool {
	return unicode.IsPrint(r) || r == '\n' || r == '\t' || unicode.Is(unicode.Zs, r)
}

// Writer passes text on to To with escapes for what should not reach a terminal. A
// first error of To is kept in Err, and nothing is written after it.
type Writer struct {
	To  io.Writer
	Err error

	begun []byte // a character of which the rest is not there yet
}

// Write implements io.Writer.
func (w *Writer) Write(p []byte) (int, error) {
	text := append(w.begun, p...)
	w.begun = nil
	var b bytes.Buffer
	for len(text) > 0 {
		if !utf8.FullRune(text) {
			w.begun = bytes.Clone(text)
			break
		}
		r, n := utf8.DecodeRune(text)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, text[0])
		case shown(r):
			b.Write(text[:n])
		default:
			quoted := strconv.QuoteRune(r)
			b.WriteString(quoted[1 : len(quoted)-1])
		}
		text = text[n:]
	}
	if w.Err == nil {
		_, w.Err = w.To.Write(b.Bytes())
	}
	if w.Err != nil {
		return 0, w.Err
	}
	return len(p), nil
}

// JSON returns JSON with the escapes of JSON for what Writer would escape: the
// same values.
func JSON(text []byte) []byte {
	if bytes.IndexFunc(text, func(r rune) bool { return !shown(r) }) < 0 {
		return text
	}
	var b bytes.Buffer
	for _, r := range string(text) {
		switch {
		case shown(r):
			b.WriteRune(r)
		case r < 1<<16:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			r -= 1 << 16
			fmt.Fprintf(&b, `\u%04x\u%04x`, 0xd800+r>>10, 0xdc00+r&0x3ff)
		}
	}
	return b.Bytes()
}
