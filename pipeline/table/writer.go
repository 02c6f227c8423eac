package table

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"phonocycle/pipeline/table/atomicfile"
)

// Writer writes one file of a table. It is not safe for concurrent use.
type Writer[T Row] struct {
	encoder[T]
	pending *atomicfile.File
	sealed  bool // all rows are in the file
	closed  bool // the file is there or given up
}

// Create begins the file at path, which must not exist yet, with the columns of
// T followed by extra. For many files of one table, see [Format].
func Create[T Row](path string, extra []Column, meta Metadata) (*Writer[T], error) {
	f, err := NewFormat[T](extra, meta)
	if err != nil {
		return nil, fmt.Errorf("create %s: %w", path, err)
	}
	return f.Create(path)
}

// Create begins the file at path, which must not exist yet. Nothing appears
// under path before Commit.
func (f *Format[T]) Create(path string) (*Writer[T], error) {
	if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("create %s: %w; resume the run or choose another folder", path, fs.ErrExist)
	}
	pending, err := atomicfile.Create(path)
	if err != nil {
		return nil, err
	}
	w := &Writer[T]{pending: pending}
	w.encoder.start(f, pending)
	return w, nil
}

// Append adds a row with the values of the dynamic columns, whose numbers must
// be those of the columns of each kind. Nothing of row or extra is kept.
func (w *Writer[T]) Append(row T, extra DynamicValues) error {
	if w.sealed || w.closed {
		return fmt.Errorf("append to %s: %w", w.pending.Path, fs.ErrClosed)
	}
	if err := w.encoder.append(row, extra); err != nil {
		return fmt.Errorf("write %s: row %d: %w", w.pending.Path, w.rows, err)
	}
	return nil
}

// Rows returns the number of rows appended.
func (w *Writer[T]) Rows() int64 { return w.rows }

// Flush encodes the rows appended so far. It spares Seal the work.
func (w *Writer[T]) Flush() error {
	if err := w.flush(); err != nil {
		return fmt.Errorf("write %s: %w", w.pending.Path, err)
	}
	return nil
}

// AddSibling notes in the metadata the digest of a sealed file of another table,
// which was made together with this one; see [CheckSiblings].
func (w *Writer[T]) AddSibling(table, digest string) error {
	return w.file.AppendKeyValueMetadata(siblingKey(table), digest)
}

// Digest returns the digest of a file that is sealed.
func (w *Writer[T]) Digest() string { return w.sum }

// Seal writes what is left and syncs the file, which has no name yet. On failure
// nothing is left behind.
func (w *Writer[T]) Seal() error {
	if w.closed {
		return fmt.Errorf("commit %s: %w", w.pending.Path, fs.ErrClosed)
	}
	if w.sealed {
		return nil
	}
	w.sealed = true
	err := w.encoder.finish()
	if err == nil {
		_, err = w.pending.WriteAt([]byte(w.sum), w.sumAt)
	}
	if err != nil {
		err = fmt.Errorf("write %s: %w", w.pending.Path, err)
	} else {
		err = w.pending.Sync()
	}
	if err != nil {
		w.closed = true
		return errors.Join(err, w.pending.Abort())
	}
	return nil
}

// Commit seals the file, gives it its name and syncs the folder. On failure
// nothing is left behind.
func (w *Writer[T]) Commit() error {
	if err := w.Seal(); err != nil {
		return err
	}
	w.closed = true
	if _, err := os.Lstat(w.pending.Path); err == nil {
		return errors.Join(fmt.Errorf("rename to %s: %w; does another process write the same part?", w.pending.Path, fs.ErrExist), w.pending.Abort())
	}
	return w.pending.Commit()
}

// Abort removes the unfinished file. After Commit it does nothing, so that it
// can be deferred.
func (w *Writer[T]) Abort() error {
	if w.closed {
		return nil
	}
	w.closed = true
	if !w.sealed {
		w.encoder.release()
	}
	return w.pending.Abort()
}
