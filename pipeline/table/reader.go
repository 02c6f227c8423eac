package table

import (
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"slices"
)

// Record is a row with its dynamic columns.
type Record[T Row] struct {
	Row    T
	Values DynamicValues // valid until the next record is read
}

// Reader reads the files of a table one after another, each a batch of rows at
// a time. It is not safe for concurrent use.
type Reader[T Row] struct {
	paths    []string
	without  kinds
	columns  []Column
	dynamic  []Column
	metadata Metadata
}

// kinds says which kinds of dynamic columns are left out.
type kinds [len(kindNames)]bool

var allKinds = kinds{Float: true, Category: true, FloatVector: true, ByteVector: true}

// Open prepares to read the files at paths, which must have the same dynamic
// columns, in this order.
func Open[T Row](paths ...string) (*Reader[T], error) { return open[T](kinds{}, paths...) }

// OpenWithout does the same but leaves out the dynamic columns of a kind, which
// takes a fraction of the time where they are hundreds.
func OpenWithout[T Row](kind Kind, paths ...string) (*Reader[T], error) {
	var without kinds
	without[kind] = true
	return open[T](without, paths...)
}

func open[T Row](without kinds, paths ...string) (*Reader[T], error) {
	if len(paths) == 0 {
		return nil, errors.New("read table: no file given")
	}
	r := &Reader[T]{paths: paths, without: without}
	f, d, err := r.open(paths[0])
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r.columns, r.dynamic, r.metadata = d.extra, d.dynamic, d.metadata
	return r, nil
}

// open opens a file and reads its footer.
func (r *Reader[T]) open(path string) (*os.File, *decoder[T], error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("read table: %w", err)
	}
	d, err := newDecoder[T](f, r.without)
	if err != nil {
		f.Close()
		return nil, nil, fmt.Errorf("read %s: %w", path, err)
	}
	return f, d, nil
}

// OpenParts prepares to read all parts of a table in their order.
func OpenParts[T Row](p Parts) (*Reader[T], error) {
	paths, err := p.all()
	if err != nil {
		return nil, err
	}
	return Open[T](paths...)
}

// all returns the paths of all parts, which lie beside the parts of recordings
// that they were made with, if there are any.
func (p Parts) all() ([]string, error) {
	parts, err := p.List()
	if err != nil {
		return nil, err
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("read table: no part files in %s; has the run written this table?", p.Dir)
	}
	paths := make([]string, len(parts))
	for i, n := range parts {
		if n != i {
			return nil, fmt.Errorf("read table: %s is missing; resume the run that was interrupted", p.Path(i))
		}
		paths[i] = p.Path(n)
	}
	return paths, p.checkBeside(parts)
}

// Columns returns the dynamic columns in the order in which DynamicValues hold the
// values of each kind.
func (r *Reader[T]) Columns() []Column { return r.columns }

// Metadata returns what the first file says about its making.
func (r *Reader[T]) Metadata() Metadata { return r.metadata }

// Rows reads the rows of all files. After an error it ends.
func (r *Reader[T]) Rows() iter.Seq2[Record[T], error] {
	return func(yield func(Record[T], error) bool) {
		for _, path := range r.paths {
			if !r.readFile(path, yield) {
				return
			}
		}
	}
}

func (r *Reader[T]) readFile(path string, yield func(Record[T], error) bool) bool {
	fail := func(err error) bool {
		yield(Record[T]{}, fmt.Errorf("read %s: %w", path, err))
		return false
	}
	f, d, err := r.open(path)
	if err != nil {
		yield(Record[T]{}, err)
		return false
	}
	defer f.Close()
	if !slices.Equal(d.dynamic, r.dynamic) {
		return fail(fmt.Errorf("other columns than %s; were both made by one run?", r.paths[0]))
	}
	if d.metadata.Config != r.metadata.Config {
		return fail(fmt.Errorf("not made by the run that made %s; keep the files of each run in a folder of their own", r.paths[0]))
	}
	for {
		n, err := d.load()
		if err == io.EOF {
			return true
		}
		if err != nil {
			return fail(err)
		}
		for i := range n {
			if err := d.read(i); err != nil {
				return fail(err)
			}
			if !yield(d.record, nil) {
				return false
			}
		}
	}
}

// Read reads the rows of one file without its dynamic columns. After an error
// it ends.
func Read[T Row](path string) iter.Seq2[T, error] { return rowsOf[T]([]string{path}, nil) }

// ReadParts reads the rows of all parts of a table without their dynamic
// columns. After an error it ends.
func ReadParts[T Row](p Parts) iter.Seq2[T, error] { return rowsOf[T](p.all()) }

func rowsOf[T Row](paths []string, err error) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var r *Reader[T]
		err := err
		if err == nil {
			r, err = open[T](allKinds, paths...)
		}
		if err != nil {
			var zero T
			yield(zero, err)
			return
		}
		for record, err := range r.Rows() {
			if !yield(record.Row, err) {
				return
			}
		}
	}
}
