package dataset

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
)

// entry is one row of an annotation. Times are nanoseconds where the layout's
// unit is seconds, else samples counted from 0.
type entry struct {
	line       int
	start, end int64 // end only for intervals
	code       string
	state      pcg.State
	known      bool // the code is one of the layout's
}

// annotation is what one file, or one table's rows, say of a recording.
type annotation struct {
	file    string
	entries []entry
	defects []Defect
}

// annotationReader turns lines into entries.
type annotationReader struct {
	program *referenceProgram
	file    string
	columns []int // of the roles, from 0; nil before the first line
	key     int   // column of the key, or -1
	width   int
}

// errStop ends the reading of a file of which enough is known.
var errStop = errors.New("no use reading on")

// readAnnotation reads the annotation of one recording. What is wrong with the
// text is in its defects.
func (p *referenceProgram) readAnnotation(file string, r io.Reader) *annotation {
	a := &annotation{file: file}
	reader := annotationReader{program: p, file: file, key: -1}
	ends, err := readLines(r, delimiterOf(p.Delimiter, file), func(line int, fields []string) error {
		if reader.columns == nil {
			header, d := reader.findColumns(line, fields)
			if d != nil {
				a.defects = append(a.defects, *d)
				return errStop
			}
			if header {
				return nil
			}
		}
		reader.add(a, line, fields)
		return nil
	})
	if !errors.Is(err, errStop) {
		a.defects = append(a.defects, textDefects(file, ends, err)...)
	}
	return a
}

// findColumns looks for the columns of the roles in the first line.
func (r *annotationReader) findColumns(line int, fields []string) (header bool, d *Defect) {
	p := r.program
	header = p.Header == headerPresent
	if p.Header == headerOptional {
		header = !r.isTime(fields[0])
	}
	byName := map[string]string{"start": p.Columns.Start, "end": p.Columns.End, "time": p.Columns.Time, "state": p.Columns.State}
	wanted := make([]string, 0, 4)
	for _, role := range p.roles {
		wanted = append(wanted, byName[role])
	}
	if p.Key != "" {
		wanted = append(wanted, p.Key)
	}
	found := make([]int, 0, len(wanted))
	for i, want := range wanted {
		at := i // where a header is optional and absent: the order of the roles
		switch {
		case header:
			at = slices.IndexFunc(fields, func(f string) bool { return strings.EqualFold(f, want) })
			if at < 0 {
				return true, r.defect(line, KindColumnMissing, "header without a column %q: it has %s", want, shorten(strings.Join(fields, ", ")))
			}
		case p.Header == headerAbsent:
			n, _ := strconv.Atoi(want) // checked by compile
			at = n - 1
		}
		found = append(found, at)
	}
	r.columns, r.key = found[:len(p.roles)], -1
	if p.Key != "" {
		r.key = found[len(p.roles)]
	}
	r.width = slices.Max(found) + 1
	if header {
		r.width = len(fields)
	}
	return header, nil
}

func (r *annotationReader) isTime(s string) bool {
	_, err := r.time(s)
	return err == nil
}

func (r *annotationReader) time(s string) (int64, error) {
	if r.program.Unit == unitSamples {
		n, err := parseSample(s)
		return n - int64(r.program.Base), err
	}
	t, err := parseSeconds(s)
	return int64(t), err
}

func (r *annotationReader) defect(line int, kind Kind, format string, args ...any) *Defect {
	return &Defect{File: r.file, Line: line, Kind: kind, Message: fmt.Sprintf(format, args...), Excludes: true}
}

// add reads one row into a.
func (r *annotationReader) add(a *annotation, line int, fields []string) {
	if len(fields) > r.width && strings.Join(fields[r.width:], "") == "" {
		d := r.defect(line, KindColumns, "%d columns where %d belong", len(fields), r.width)
		d.Action, d.Excludes = "the empty ones ignored", false
		a.defects = append(a.defects, *d)
		fields = fields[:r.width]
	}
	if len(fields) != r.width {
		a.defects = append(a.defects, *r.defect(line, KindColumns, "%d columns where %d belong", len(fields), r.width))
		return
	}
	e := entry{line: line}
	for i, role := range r.program.roles {
		text := fields[r.columns[i]]
		if role == "state" {
			e.code = text
			e.state, e.known = r.program.states[strings.ToLower(text)]
			continue
		}
		t, err := r.time(text)
		if err != nil {
			a.defects = append(a.defects, *r.defect(line, KindNotNumber, "%s %q: %v", role, shorten(text), err))
			return
		}
		if role == "end" {
			e.end = t
		} else {
			e.start = t
		}
	}
	a.entries = append(a.entries, e)
}
