package dataset

import (
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// annotationColumns are where the columns of an annotation stand, from 0.
type annotationColumns struct {
	at    []int // of the roles of the kind
	key   int   // of the key, or −1
	width int   // number of columns
}

// annotationReader turns the lines of one annotation into rows.
type annotationReader struct {
	rule    *compiledReference
	file    string
	rate    int                // of the recording in hertz; 0 if unknown
	length  time.Duration      // of the recording; 0 if unknown
	columns *annotationColumns // nil before the first line
	lines   int                // read so far, without the header
	rows    []row
	defects []Defect
}

// errStop ends the reading of a file whose defect is reported already.
var errStop = errors.New("stop reading")

// read reads an annotation that has a file of its own.
func (a *annotationReader) read(text io.Reader) {
	ends, err := readLines(text, delimiterOf(a.rule.Delimiter, a.file), func(number int, fields []string) error {
		header, err := a.isHeader(number, fields)
		if !header && err == nil {
			err = a.add(number, fields)
		}
		return err
	})
	a.defects = append(a.defects, textDefects(a.file, ends, err, annotationUnreadable)...)
}

// textDefects describes what readLines found in a file; cut is the type of a
// text that cannot be read to its end.
func textDefects(file string, ends lineEnds, err error, cut defectType) []Defect {
	var defects []Defect
	if ends.crlf > 0 {
		defects = append(defects, carriageReturns.at(file, ends.firstCRLF, ends.crlf))
	}
	var at *lineError
	if errors.As(err, &at) && !errors.Is(err, errStop) {
		defects = append(defects, cut.at(file, at.line, at.err))
	}
	return defects
}

// isHeader reports whether a line is a header. In the first line it looks for
// the columns; if one is missing, that becomes a defect and the error errStop.
// Where a header is optional and absent, the columns stand in the order of the
// roles.
func (a *annotationReader) isHeader(line int, fields []string) (header bool, err error) {
	if a.columns != nil {
		return false, nil
	}
	header = a.rule.Header == headerPresent
	if a.rule.Header == headerOptional {
		_, err := a.rule.time(fields[0], 1)
		header = err != nil
	}
	find := func(column string, usual int) int {
		switch {
		case column == "":
			return -1
		case header:
			at := slices.IndexFunc(fields, func(f string) bool { return strings.EqualFold(f, column) })
			if at < 0 && err == nil {
				err = errStop
				a.defects = append(a.defects, annotationColumn.at(a.file, line, column, shorten(strings.Join(fields, ", "))))
			}
			return at
		case a.rule.Header == headerAbsent:
			n, _ := strconv.Atoi(column) // checked with the layout
			return n - 1
		}
		return usual
	}
	a.columns = &annotationColumns{}
	for i, role := range a.rule.rows.roles {
		a.columns.at = append(a.columns.at, find(a.rule.Columns.of(role), i))
	}
	a.columns.key = find(a.rule.Key, -1)
	a.columns.width = max(a.columns.key, slices.Max(a.columns.at)) + 1
	if header {
		a.columns.width = len(fields)
	}
	return header, err
}

// time reads a time: in seconds, or in samples at a rate in hertz.
func (p *compiledReference) time(s string, rate int) (time.Duration, error) {
	if p.Unit != unitSamples {
		return parseSeconds(s)
	}
	n, err := parseSample(s)
	if err != nil {
		return 0, err
	}
	return sampleTime(n-int64(p.Base), rate)
}

// add reads one row. With more rows than the recording can have, none can be
// trusted: that becomes a defect and the error errStop.
func (a *annotationReader) add(line int, fields []string) error {
	found := func(t defectType, args ...any) { a.defects = append(a.defects, t.at(a.file, line, args...)) }
	most := MaxRows(a.length)
	if a.lines++; a.lines > most {
		found(rowsTooMany, most, lengthInWords(a.length))
		a.rows = nil
		return errStop
	}
	c := a.columns
	if len(fields) > c.width && strings.Join(fields[c.width:], "") == "" {
		found(columnsEmpty, len(fields), c.width)
		fields = fields[:c.width]
	}
	if len(fields) != c.width {
		found(annotationWidth, len(fields), c.width)
		return nil
	}
	r := row{line: line}
	for i, role := range a.rule.rows.roles {
		text := fields[c.at[i]]
		if role == stateRole {
			r.code = text
			r.state, r.known = a.rule.states[strings.ToLower(text)]
			continue
		}
		t, err := a.rule.time(text, max(a.rate, 1)) // without a rate no time is used
		if err != nil {
			found(timeNotNumber, role, shorten(text), err)
			return nil
		}
		if role == endRole {
			r.end = t
		} else {
			r.start = t
		}
	}
	a.rows = append(a.rows, r)
	return nil
}

// reference repairs the rows of a recording.
func (a *annotationReader) reference(recording string) (pcg.Reference, []Defect) {
	p := repairer{file: a.file, length: a.length, defects: a.defects}
	var ref pcg.Reference
	if a.rule.Unit == unitSamples && a.rate <= 0 {
		p.found(rateUnknown, 0)
	} else if ref = a.rule.rows.repair(&p, a.rows); ref.Empty() && excluded(p.defects) == nil {
		p.found(annotationEmpty, 0)
	}
	p.finish(&ref, recording)
	return ref, p.defects
}
