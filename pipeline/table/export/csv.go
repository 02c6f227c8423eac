package export

import (
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"io"

	"phonocycle/pipeline/table"
)

// CSVOptions say what WriteCSV writes.
type CSVOptions struct {
	Columns []string    // patterns of [SelectColumns]; nil is all but vectors
	Where   []Condition // which rows fulfil
	Digits  int         // significant ones of floats; 0 is as many as give the number back
	Raw     bool        // texts as they are, which a spreadsheet may run as formulas
	Gzip    bool        // compressed, to the same bytes every time
}

// WriteCSV writes a table, whose parts lie in dir, as comma-separated values
// with a header (RFC 4180): a null as an empty cell, a time in seconds, a text as
// [printable.Cell], or as it is where raw is set.
func WriteCSV(w io.Writer, dir string, o CSVOptions) error {
	const most = 17 // digits of a double
	if o.Digits < 0 || o.Digits > most {
		return fmt.Errorf("digits is %d: want 1 to %d, or 0 for all", o.Digits, most)
	}
	t, err := tableIn(dir)
	if err != nil {
		return err
	}
	if !o.Gzip {
		return t.writeCSV(w, table.Parts{Dir: dir}, o)
	}
	compressed := gzip.NewWriter(w) // whose header has neither name nor time
	if err := t.writeCSV(compressed, table.Parts{Dir: dir}, o); err != nil {
		return err
	}
	return compressed.Close()
}

func writeCSV[T table.Row](w io.Writer, p table.Parts, o CSVOptions) error {
	r, err := table.OpenParts[T](p)
	if err != nil {
		return err
	}
	cells := cellsOf(p.Dir, r)
	filter, err := cells.filter(o.Where)
	if err != nil {
		return err
	}
	rule := textRule{safe: spreadsheet.safe, digits: o.Digits}
	if o.Raw {
		rule.safe = exactly.safe
	}
	out, err := newCSVWriter(w, cells, o.Columns, &rule)
	if err != nil {
		return err
	}
	for record, err := range r.Rows() {
		if err != nil {
			return err
		}
		if !filter.Holds(&record) {
			continue
		}
		if err := out.write(&record); err != nil {
			return err
		}
	}
	if err := filter.Err(); err != nil {
		return err
	}
	return out.flush()
}

// csvWriter writes records as comma-separated values. It writes the header with the
// first record, or at the end, so that a fault found before leaves nothing.
type csvWriter[T table.Row] struct {
	out    *csv.Writer
	rule   *textRule
	texts  []cellText[T]
	header []string // nil once it is written
	row    []string
}

// newCSVWriter returns a writer of the selected columns; nil is all.
func newCSVWriter[T table.Row](w io.Writer, c *cells[T], columns []string, rule *textRule) (*csvWriter[T], error) {
	names := c.names
	if len(columns) > 0 {
		var err error
		if names, err = SelectColumns(c.dir, columns, c.names); err != nil {
			return nil, err
		}
	}
	out := &csvWriter[T]{out: csv.NewWriter(w), rule: rule, header: make([]string, len(names)), row: make([]string, len(names))}
	for i, name := range names {
		text, err := c.column(name)
		if err != nil {
			return nil, err
		}
		out.texts = append(out.texts, text)
		out.header[i] = rule.safe(name)
	}
	return out, nil
}

func (w *csvWriter[T]) begin() error {
	header := w.header
	w.header = nil
	if header == nil {
		return nil
	}
	return w.out.Write(header)
}

func (w *csvWriter[T]) write(record *table.Record[T]) error {
	if err := w.begin(); err != nil {
		return err
	}
	for i, text := range w.texts {
		w.row[i] = text(record, w.rule)
	}
	return w.out.Write(w.row)
}

func (w *csvWriter[T]) flush() error {
	if err := w.begin(); err != nil {
		return err
	}
	w.out.Flush()
	return w.out.Error()
}
