package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/yamlcheck"
)

// WriteCSV writes a table, whose parts lie in dir, as comma-separated values
// with a header (RFC 4180): a null as an empty cell, a time in seconds, a float
// with the fewest digits that give it back, a text as [printable.Cell], or as it
// is where raw is set.
func WriteCSV(w io.Writer, dir string, o CSVOptions) error {
	t, err := tableIn(dir)
	if err != nil {
		return err
	}
	return t.writeCSV(w, table.Parts{Dir: dir}, o)
}

// CSVOptions say what WriteCSV writes.
type CSVOptions struct {
	Columns []string // in this order; nil is all but vectors
	Raw     bool     // texts as they are, which a spreadsheet may run as formulas
}

// unknownColumn says which columns a table has: all of them, or where there are
// many the one that was probably meant.
func unknownColumn(dir, name string, columns []string) error {
	const most = 40
	err := fmt.Errorf("%s has no column %q that fits into a cell", dir, name)
	near := yamlcheck.Nearest(name, columns)
	switch {
	case near != "":
		return fmt.Errorf("%w: did you mean %q?", err, near)
	case len(columns) <= most:
		return fmt.Errorf("%w: it has %s", err, strings.Join(columns, ", "))
	}
	return fmt.Errorf("%w: of its %d columns the first are %s; csv without --columns prints all in its first line",
		err, len(columns), strings.Join(columns[:most], ", "))
}

// cellText writes the value of one column of a record, a text through safe.
type cellText[T table.Row] func(record *table.Record[T], safe func(string) string) string

func writeCSV[T table.Row](w io.Writer, p table.Parts, o CSVOptions) error {
	r, err := table.OpenParts[T](p)
	if err != nil {
		return err
	}
	known, order := csvCells(r)
	names := o.Columns
	if len(names) == 0 {
		names = order
	}
	cells := make([]cellText[T], len(names))
	for i, name := range names {
		if cells[i] = known[name]; cells[i] == nil {
			return unknownColumn(p.Dir, name, order)
		}
	}
	safe := printable.Cell
	if o.Raw {
		safe = func(text string) string { return text }
	}
	out := csv.NewWriter(w)
	row := make([]string, len(names))
	for i, name := range names {
		row[i] = safe(name)
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for record, err := range r.Rows() {
		if err != nil {
			return err
		}
		for i, text := range cells {
			row[i] = text(&record, safe)
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// csvCells returns how each column is written, by name, and their order.
func csvCells[T table.Row](r *table.Reader[T]) (cells map[string]cellText[T], order []string) {
	cells = map[string]cellText[T]{}
	for i := range reflect.TypeFor[T]().NumField() {
		if name, _, _ := strings.Cut(reflect.TypeFor[T]().Field(i).Tag.Get("table"), ","); name != "" {
			cells[name] = func(record *table.Record[T], safe func(string) string) string {
				return fieldText(reflect.ValueOf(&record.Row).Elem().Field(i), safe)
			}
			order = append(order, name)
		}
	}
	var floats, labels int
	for _, c := range r.Columns() {
		switch c.Kind {
		case table.Float:
			i := floats
			floats++
			cells[c.Name] = func(record *table.Record[T], _ func(string) string) string { return floatText(record.Values.Floats[i]) }
		case table.Category:
			i := labels
			labels++
			cells[c.Name] = func(record *table.Record[T], safe func(string) string) string { return safe(record.Values.Labels[i]) }
		default:
			continue
		}
		order = append(order, c.Name)
	}
	return cells, order
}

// fieldText writes the value of a field of a row.
func fieldText(v reflect.Value, safe func(string) string) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	if d, ok := v.Interface().(time.Duration); ok {
		return floatText(table.Seconds(d))
	}
	switch v.Kind() {
	case reflect.String:
		return safe(v.String())
	case reflect.Float64:
		return floatText(v.Float())
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	}
	return strconv.FormatInt(v.Int(), 10)
}

// floatText writes a float; NaN is a null.
func floatText(x float64) string {
	if x != x {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
