// Package export copies tables into other forms: comma-separated values, and a
// folder for each data set.
package export

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"phonocycle/pipeline/table"
)

// kind is a table that is known here, and what can be done with it.
type kind struct {
	name      string
	writeCSV  func(io.Writer, table.Parts, CSVOptions) error
	partition func(ctx context.Context, from table.Parts, out string) error // nil where rows name no data set
}

// kindOf returns the table with rows of type T, whose data set dataSet returns.
func kindOf[T table.Row](dataSet func(*T) string) kind {
	var row T
	k := kind{name: row.Table().Name, writeCSV: writeCSV[T]}
	if dataSet != nil {
		k.partition = func(ctx context.Context, from table.Parts, out string) error {
			return partition(ctx, from, out, dataSet)
		}
	}
	return k
}

var kinds = [...]kind{
	kindOf(func(r *table.Recording) string { return r.DataSet }),
	kindOf(func(c *table.Cycle) string { return c.DataSet }),
	kindOf(func(p *table.Person) string { return p.DataSet }),
	kindOf(func(w *table.Window) string { return w.DataSet }),
	kindOf[table.State](nil), kindOf[table.Match](nil), kindOf[table.Score](nil),
}

// Tables returns the names of all tables that a stage writes.
func Tables() []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.name
	}
	return names
}

// tableIn returns the table whose parts lie in dir: the one that the first part
// names, or else that of the folder's name.
func tableIn(dir string) (kind, error) {
	parts := table.Parts{Dir: dir}
	numbers, err := parts.List()
	if err != nil {
		return kind{}, err
	}
	if len(numbers) == 0 {
		return kind{}, fmt.Errorf("read table: no part files in %s; name the folder of one table, such as results/recordings", dir)
	}
	r, err := table.Open[anyRow](parts.Path(numbers[0]))
	if err != nil {
		return kind{}, err
	}
	name := r.Metadata().Table
	if name == "" {
		name = filepath.Base(filepath.Clean(dir))
	}
	for _, k := range kinds {
		if k.name == name {
			return k, nil
		}
	}
	return kind{}, fmt.Errorf("%s holds %q, which is none of the tables known here", dir, name)
}

// anyRow is a row of any table: its table has no name.
type anyRow struct{}

func (anyRow) Table() table.Info { return table.Info{} }
