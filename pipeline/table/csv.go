package table

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"
)

// WriteCSV writes a table, whose parts lie in dir, as comma-separated values
// with a header (RFC 4180): a null as an empty cell, a time in seconds, a float
// with the fewest digits that give it back. Of the columns those named are
// written, in that order; without names all but vectors.
func WriteCSV(w io.Writer, dir string, names []string) error {
	kind, err := tableIn(dir)
	if err != nil {
		return err
	}
	for _, known := range [...]struct {
		name  string
		write func(io.Writer, Parts, []string) error
	}{
		{nameOf[Recording](), writeCSV[Recording]},
		{nameOf[State](), writeCSV[State]},
		{nameOf[Cycle](), writeCSV[Cycle]},
		{nameOf[Person](), writeCSV[Person]},
		{nameOf[Window](), writeCSV[Window]},
		{nameOf[Match](), writeCSV[Match]},
		{nameOf[Score](), writeCSV[Score]},
	} {
		if known.name == kind {
			return known.write(w, Parts{Dir: dir}, names)
		}
	}
	return fmt.Errorf("%s holds %q, which is none of the tables known here", dir, kind)
}

func nameOf[T Row]() string {
	var row T
	return row.Table().Name
}

// tableIn returns the name of the table whose parts lie in dir, as the first
// part says it, or else the name of the folder.
func tableIn(dir string) (string, error) {
	parts := Parts{Dir: dir}
	numbers, err := parts.List()
	if err != nil {
		return "", err
	}
	if len(numbers) == 0 {
		return "", fmt.Errorf("read table: no part files in %s; name the folder of one table, such as results/recordings", dir)
	}
	f, err := os.Open(parts.Path(numbers[0]))
	if err != nil {
		return "", fmt.Errorf("read table: %w", err)
	}
	defer f.Close()
	d, err := newDecoder[anyRow](f, kinds{})
	if err != nil {
		return "", fmt.Errorf("read %s: %w", parts.Path(numbers[0]), err)
	}
	if d.metadata.Table != "" {
		return d.metadata.Table, nil
	}
	return filepath.Base(filepath.Clean(dir)), nil
}

// anyRow is a row of any table, and of none in particular: its table has no name.
type anyRow struct{}

func (anyRow) Table() Info { return Info{} }

// cellText writes the value of one column of a record.
type cellText[T Row] func(*Record[T]) string

func writeCSV[T Row](w io.Writer, p Parts, names []string) error {
	r, err := OpenParts[T](p)
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
func csvCells[T Row](r *Reader[T]) (cells map[string]cellText[T], order []string) {
	cells = map[string]cellText[T]{}
	for _, c := range fixedColumns(reflect.TypeFor[T]()) {
		cells[c.Name] = func(record *Record[T]) string { return fieldText(reflect.ValueOf(&record.Row).Elem().Field(c.field)) }
		order = append(order, c.Name)
	}
	var floats, labels int
	for _, c := range r.Columns() {
		switch c.Kind {
		case Float:
			i := floats
			floats++
			cells[c.Name] = func(record *Record[T]) string { return floatText(record.Cells.Floats[i]) }
		case Category:
			i := labels
			labels++
			cells[c.Name] = func(record *Record[T]) string { return record.Cells.Labels[i] }
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
		return floatText(Seconds(d))
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
