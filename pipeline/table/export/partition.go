package export

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"

	"phonocycle/pipeline/table"
)

// maxRows bounds the rows of a file that Partition writes.
const maxRows = 1 << 16

// Partition copies a table whose rows name their data set (recordings, cycles,
// people or windows), and whose parts lie in dir, into one folder per data set
// below out, named as query engines expect it:
//
//	out/cycles/data_set=circor/part-000000.parquet
//
// Rows keep their order and their columns, data_set among them; files keep their
// metadata. One row is held at a time. Partition returns the name of the table.
func Partition(ctx context.Context, dir, out string) (string, error) {
	t, err := tableIn(dir)
	if err != nil {
		return "", err
	}
	if t.partition == nil {
		return "", fmt.Errorf("%s holds %s, whose rows name no data set; give recordings, cycles, people or windows", dir, t.name)
	}
	return t.name, t.partition(ctx, table.Parts{Dir: dir}, out)
}

func partition[T table.Row](ctx context.Context, from table.Parts, out string, setOf func(*T) string) error {
	r, err := table.OpenParts[T](from)
	if err != nil {
		return err
	}
	var set string            // under way; a file ends where the next one begins
	var w *table.Writer[T]    // of the file of this data set
	files := map[string]int{} // written of each data set
	finish := func(end func(*table.Writer[T]) error) error {
		if w == nil {
			return nil
		}
		return end(w)
	}
	defer func() { _ = finish((*table.Writer[T]).Abort) }()
	for record, err := range r.Rows() {
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return err
		}
		if of := setOf(&record.Row); w == nil || of != set || w.Rows() == maxRows {
			if err := finish((*table.Writer[T]).Commit); err != nil {
				return err
			}
			p := table.Parts{Dir: filepath.Join(out, record.Row.Table().Name, "data_set="+filepath.Base(of))}
			if err := p.Make(); err != nil {
				return err
			}
			if w, err = table.Create[T](p.Path(files[of]), r.Columns(), r.Metadata()); err != nil {
				return err
			}
			set = of
			files[of]++
		}
		if err := w.Append(record.Row, record.Values); err != nil {
			return err
		}
	}
	return finish((*table.Writer[T]).Commit)
}
