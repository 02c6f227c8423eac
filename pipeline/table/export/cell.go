package export

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/table"
)

// textRule says how values are written as text.
type textRule struct {
	safe   func(string) string // of texts
	digits int                 // of floats; 0 for as many as give the number back
}

// exactly writes values as they are.
var exactly = &textRule{safe: func(text string) string { return text }}

// spreadsheet is exactly with texts that no spreadsheet runs.
var spreadsheet = &textRule{safe: printable.Cell}

// float writes a float; NaN is a null.
func (r *textRule) float(x float64) string {
	if x != x {
		return ""
	}
	if r.digits > 0 {
		x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'e', r.digits-1, 64), 64)
	}
	return table.NumberText(x)
}

// cells are the columns of a table that fit into the cell of a text, in the order of
// the table.
type cells[T table.Row] struct {
	dir     string
	names   []string
	texts   map[string]cellText[T]
	vectors map[string]int // lengths of the columns that fit into no cell
}

// cellText writes the value of one column of a record; a null is empty.
type cellText[T table.Row] func(*table.Record[T], *textRule) string

func cellsOf[T table.Row](dir string, r *table.Reader[T]) *cells[T] {
	c := &cells[T]{dir: dir, texts: map[string]cellText[T]{}, vectors: map[string]int{}}
	add := func(name string, text cellText[T]) {
		c.names = append(c.names, name)
		c.texts[name] = text
	}
	for i := range reflect.TypeFor[T]().NumField() {
		if name, _, _ := strings.Cut(reflect.TypeFor[T]().Field(i).Tag.Get("table"), ","); name != "" {
			add(name, func(record *table.Record[T], r *textRule) string {
				return r.field(reflect.ValueOf(&record.Row).Elem().Field(i))
			})
		}
	}
	var floats, labels int
	for _, column := range r.Columns() {
		switch column.Kind {
		case table.Float:
			i := floats
			floats++
			add(column.Name, func(record *table.Record[T], r *textRule) string { return r.float(record.Values.Floats[i]) })
		case table.Category:
			i := labels
			labels++
			add(column.Name, func(record *table.Record[T], r *textRule) string {
				return r.label(record.Values.Labels[i], column.Number)
			})
		default:
			c.vectors[column.Name] = column.Length
		}
	}
	return c
}

// label writes a label, which may be a number.
func (r *textRule) label(text string, number bool) string {
	if number {
		if x, err := strconv.ParseFloat(text, 64); err == nil {
			return r.float(x)
		}
	}
	return r.safe(text)
}

// field writes the value of a field of a row.
func (r *textRule) field(v reflect.Value) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	if d, ok := v.Interface().(time.Duration); ok {
		return r.float(table.Seconds(d))
	}
	switch v.Kind() {
	case reflect.String:
		return r.safe(v.String())
	case reflect.Float64:
		return r.float(v.Float())
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	}
	return strconv.FormatInt(v.Int(), 10)
}

// column returns how a column is written, or says what there is in its place.
func (c *cells[T]) column(name string) (cellText[T], error) {
	if text := c.texts[name]; text != nil {
		return text, nil
	}
	if n, ok := c.vectors[name]; ok {
		return nil, fmt.Errorf("column %s of %s holds a vector of %d numbers per row, which fits into no cell: read it from the Parquet files, or as NumPy arrays from windows --format npy", name, c.dir, n)
	}
	return nil, UnknownColumn(c.dir, name, c.names)
}
