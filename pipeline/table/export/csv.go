package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/table"
)

// WriteCSV writes a table, whose parts lie in dir, as comma-separated values
// with a header (RFC 4180): a null as an empty cell, a time in seconds, a float
// with the fewest digits that give it back. It writes the columns with the given
// names in that order; without names, all but vectors.
func WriteCSV(w io.Writer, dir string, names []string) error {
	t, err := tableIn(dir)
	if err != nil {
		return err
	}
	return t.writeCSV(w, table.Parts{Dir: dir}, names)
}

// cellText writes the value of one column of a record.
type cellText[T table.Row] func(*table.Record[T]) string

func writeCSV[T table.Row](w io.Writer, p table.Parts, names []string) error {
	r, err := table.OpenParts[T](p)
	if err != nil {
		return err
	}
	known, order := csvCells(r)
	if len(names) == 0 {
		names = order
	}
	cells := make([]cellText[T], len(names))
	for i, name := range names {
		if cells[i] = known[name]; cells[i] == nil {
			return fmt.Errorf("%s has no column %q that fits into a cell: it has %s", p.Dir, name, strings.Join(order, ", "))
		}
	}
	out := csv.NewWriter(w)
	if err := out.Write(names); err != nil {
		return err
	}
	row := make([]string, len(names))
	for record, err := range r.Rows() {
		if err != nil {
			return err
		}
		for i, text := range cells {
			row[i] = text(&record)
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
			cells[name] = func(record *table.Record[T]) string { return fieldText(reflect.ValueOf(&record.Row).Elem().Field(i)) }
			order = append(order, name)
		}
	}
	var floats, labels int
	for _, c := range r.Columns() {
		switch c.Kind {
		case table.Float:
			i := floats
			floats++
			cells[c.Name] = func(record *table.Record[T]) string { return floatText(record.Values.Floats[i]) }
		case table.Category:
			i := labels
			labels++
			cells[c.Name] = func(record *table.Record[T]) string { return record.Values.Labels[i] }
		default:
			continue
		}
		order = append(order, c.Name)
	}
	return cells, order
}

// fieldText writes the value of a field of a row.
func fieldText(v reflect.Value) string {
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
		return v.String()
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
