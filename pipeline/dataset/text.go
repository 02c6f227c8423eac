package dataset

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Bounds of delimited text. Real lines have tens of bytes and real tables less
// than a megabyte; a file beyond these bounds is not the table it should be.
const (
	maxLine      = 64 << 10
	maxFields    = 1024
	maxTableSize = 256 << 20
)

// lineEnds says how the lines of a text end.
type lineEnds struct {
	crlf      int // lines that end in CR LF
	firstCRLF int // the first of them, from 1
}

// lineError is what is wrong with one line.
type lineError struct {
	line int
	err  error
}

func (e *lineError) Error() string { return fmt.Sprintf("line %d: %v", e.line, e.err) }
func (e *lineError) Unwrap() error { return e.err }

// readLines calls visit for each line that is not blank, with its number and
// its fields. A byte-order mark is skipped. Errors are lineErrors.
func readLines(r io.Reader, delimiter byte, visit func(line int, fields []string) error) (lineEnds, error) {
	var ends lineEnds
	limited := &io.LimitedReader{R: r, N: maxTableSize + 1}
	sc := bufio.NewScanner(limited)
	sc.Buffer(make([]byte, 0, 4096), maxLine)
	sc.Split(splitLF)
	n := 0
	for sc.Scan() {
		n++
		text := sc.Bytes()
		if n == 1 {
			text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
		}
		if k := len(text) - 1; k >= 0 && text[k] == '\r' {
			text = text[:k]
			if ends.crlf++; ends.firstCRLF == 0 {
				ends.firstCRLF = n
			}
		}
		if len(bytes.TrimSpace(text)) == 0 {
			continue
		}
		fields, err := splitFields(string(text), delimiter)
		if err == nil {
			err = visit(n, fields)
		}
		if err != nil {
			return ends, &lineError{n, err}
		}
	}
	switch err := sc.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return ends, &lineError{n + 1, fmt.Errorf("longer than %d bytes: is this the right file?", maxLine)}
	case err != nil:
		return ends, &lineError{n + 1, err}
	case limited.N <= 0:
		return ends, &lineError{n, fmt.Errorf("table larger than %d MiB: is this the right file?", maxTableSize>>20)}
	}
	return ends, nil
}

// splitLF is bufio.ScanLines but for the CR, which we want to see.
func splitLF(data []byte, atEOF bool) (advance int, token []byte, err error) {
	if i := bytes.IndexByte(data, '\n'); i >= 0 {
		return i + 1, data[:i], nil
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// splitFields splits one line into its fields, without the blanks around them. A
// field may be in double quotes (RFC 4180); it ends with its line. The delimiter
// ' ' stands for any run of blanks.
func splitFields(line string, delimiter byte) ([]string, error) {
	if strings.HasPrefix(line, "\xff\xfe") || strings.HasPrefix(line, "\xfe\xff") {
		return nil, errors.New("the text is UTF-16: save the file as UTF-8")
	}
	if strings.IndexByte(line, 0) >= 0 {
		return nil, errors.New("holds a zero byte: not a text file, or UTF-16 text: save the file as UTF-8")
	}
	if delimiter == ' ' {
		return strings.Fields(line), nil
	}
	fields := strings.Split(line, string(delimiter))
	quoted := false
	for i, f := range fields {
		fields[i] = strings.TrimSpace(f)
		quoted = quoted || strings.HasPrefix(fields[i], `"`)
	}
	if quoted {
		r := csv.NewReader(strings.NewReader(line))
		r.Comma, r.TrimLeadingSpace = rune(delimiter), delimiter != '\t'
		var err error
		if fields, err = r.Read(); err != nil {
			return nil, errors.New("a quote that is not closed on its line, or text after a closing quote: a cell in quotes must end on its line, and a quote within it is written twice")
		}
	}
	if len(fields) > maxFields {
		return nil, fmt.Errorf("more than %d columns", maxFields)
	}
	return fields, nil
}
