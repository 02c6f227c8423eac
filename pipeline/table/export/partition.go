package export

import (
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
	var row T
	s := partitioner[T]{dir: filepath.Join(out, row.Table().Name), columns: r.Columns(), meta: r.Metadata(), written: map[string]int{}}
	defer s.abort()
	for record, err := range r.Rows() {
		if err == nil {
			err = ctx.Err()
		}
		if err == nil {
			err = s.add(setOf(&record.Row), &record)
		}
		if err != nil {
			return err
		}
	}
	return s.commit()
}

// partitioner writes rows to the folder of their data set. A file ends where the
// next data set begins or a file has the rows of a row group.
type partitioner[T table.Row] struct {
	dir     string
	columns []table.Column
	meta    table.Metadata
	written map[string]int // files of each data set

	set string
	w   *table.Writer[T]
}

func (s *partitioner[T]) add(set string, record *table.Record[T]) error {
	if s.w == nil || set != s.set || s.w.Rows() == maxRows {
		if err := s.next(set); err != nil {
			return err
		}
	}
	return s.w.Append(record.Row, record.Values)
}

// next completes the file under way and begins one of the data set.
func (s *partitioner[T]) next(set string) error {
	if err := s.commit(); err != nil {
		return err
	}
	p := table.Parts{Dir: filepath.Join(s.dir, "data_set="+filepath.Base(set))}
	if err := p.Make(); err != nil {
		return err
	}
	w, err := table.Create[T](p.Path(s.written[set]), s.columns, s.meta)
	if err != nil {
		return err
	}
	s.set, s.w = set, w
	s.written[set]++
	return nil
}

func (s *partitioner[T]) commit() error {
	if s.w == nil {
		return nil
	}
	w := s.w
	s.w = nil
	return w.Commit()
}

func (s *partitioner[T]) abort() {
	if s.w != nil {
		_ = s.w.Abort()
	}
}
