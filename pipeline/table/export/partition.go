package export

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/atomicfile"
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
//
// The folder of the table appears whole or not at all. It must not exist, or hold
// what Partition writes alone and overwrite be set.
func Partition(ctx context.Context, dir, out string, overwrite bool) (name string, err error) {
	t, err := tableIn(dir)
	if err != nil {
		return "", err
	}
	if t.partition == nil {
		return "", fmt.Errorf("%s holds %s, whose rows name no data set; give recordings, cycles, people or windows", dir, t.name)
	}
	target := filepath.Join(out, t.name)
	if err := checkTarget(target, dir, overwrite); err != nil {
		return "", err
	}
	unfinished := target + atomicfile.Suffix
	if err := removeCopy(unfinished); err != nil { // of a copy that was killed
		return "", err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(unfinished)) }()
	if err := t.partition(ctx, table.Parts{Dir: dir}, unfinished); err != nil {
		return "", err
	}
	if err := removeCopy(target); err != nil {
		return "", err
	}
	return t.name, os.Rename(unfinished, target)
}

// checkTarget refuses a folder that may not be replaced.
func checkTarget(target, from string, overwrite bool) error {
	is, err := os.Stat(target)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if source, err := os.Stat(from); err == nil && os.SameFile(is, source) {
		return fmt.Errorf("folder %s is the table itself: choose another folder with --out", target)
	}
	if err := onlyCopies(target); err != nil {
		return err
	}
	if !overwrite {
		return fmt.Errorf("folder %s exists: give --overwrite to replace it, or another folder with --out", target)
	}
	return nil
}

// removeCopy removes a folder that Partition made, if it is there.
func removeCopy(dir string) error {
	if err := onlyCopies(dir); err != nil {
		return err
	}
	return os.RemoveAll(dir)
}

// onlyCopies refuses a folder with files that Partition does not write.
func onlyCopies(dir string) error {
	return filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		folder, file := filepath.Split(path)
		isSet := strings.HasPrefix(filepath.Base(folder), "data_set=") || strings.HasPrefix(file, "data_set=")
		if err != nil || d.IsDir() && (path == dir || isSet) {
			return err
		}
		if d.Type().IsRegular() && isSet && strings.HasPrefix(file, "part-") && (strings.HasSuffix(file, ".parquet") || strings.HasSuffix(file, atomicfile.Suffix)) {
			return nil
		}
		return fmt.Errorf("folder %s holds %s, which phonocycle did not write: choose another folder with --out", dir, path)
	})
}

// partition copies the rows into folders below out.
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
			p := table.Parts{Dir: filepath.Join(out, "data_set="+filepath.Base(of))}
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
