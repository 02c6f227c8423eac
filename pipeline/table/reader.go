package table

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
)

// Rows are decoded so many at a time; fewer where vectors make them large.
const (
	batchRows       = 1024
	batchVectorRows = 64
)

// Record is a row with its dynamic columns.
type Record[T Row] struct {
	Row   T
	Cells Cells // valid until the next record is read
}

// Reader reads the files of a table one after another, each a batch of rows at
// a time. It is not safe for concurrent use.
type Reader[T Row] struct {
	paths    []string
	without  kinds
	columns  []Column
	dynamic  []kindOf
	skipped  []string
	metadata Metadata
}

// kindOf is a dynamic column, whether it is read or left out.
type kindOf struct {
	name string
	kind Kind
}

// kinds says which kinds of dynamic columns are left out.
type kinds [len(kindNames)]bool

// allKinds leaves out all dynamic columns.
func allKinds() (k kinds) {
	for i := range k {
		k[i] = true
	}
	return k
}

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
	f, err := os.Open(paths[0])
	if err != nil {
		return nil, fmt.Errorf("read table: %w", err)
	}
	defer f.Close()
	d, err := newDecoder[T](f, r.without)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", paths[0], err)
	}
	r.columns, r.dynamic, r.skipped, r.metadata = d.extra, d.dynamic, d.skipped, d.metadata
	return r, nil
}

// OpenParts prepares to read all parts of a table in their order.
func OpenParts[T Row](p Parts) (*Reader[T], error) {
	paths, err := p.all()
	if err != nil {
		return nil, err
	}
	return Open[T](paths...)
}

// all returns the paths of all parts.
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
	return paths, nil
}

// Columns returns the dynamic columns in the order in which Cells hold the
// values of each kind.
func (r *Reader[T]) Columns() []Column { return r.columns }

// Skipped returns the names of the columns that are neither fields of T nor of
// a dynamic kind; they are not read.
func (r *Reader[T]) Skipped() []string { return r.skipped }

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
	f, err := os.Open(path)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	d, err := newDecoder[T](f, r.without)
	if err != nil {
		return fail(err)
	}
	if !slices.Equal(d.dynamic, r.dynamic) {
		return fail(fmt.Errorf("other columns than %s; were both made by one run?", r.paths[0]))
	}
	var record Record[T]
	record.Cells = d.cells()
	for {
		n, err := d.load()
		if err == io.EOF {
			return true
		}
		if err != nil {
			return fail(err)
		}
		for i := range n {
			if err := d.record(i, &record); err != nil {
				return fail(err)
			}
			if !yield(record, nil) {
				return false
			}
		}
	}
}

// Read reads the rows of one file without its dynamic columns. After an error
// it ends.
func Read[T Row](path string) iter.Seq2[T, error] {
	return rowsOf(func() (*Reader[T], error) { return open[T](allKinds(), path) })
}

// ReadParts reads the rows of all parts of a table without their dynamic
// columns. After an error it ends.
func ReadParts[T Row](p Parts) iter.Seq2[T, error] {
	return rowsOf(func() (*Reader[T], error) {
		paths, err := p.all()
		if err != nil {
			return nil, err
		}
		return open[T](allKinds(), paths...)
	})
}

func rowsOf[T Row](open func() (*Reader[T], error)) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		r, err := open()
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

// decoder reads one file.
type decoder[T Row] struct {
	file     *file.Reader
	r        io.ReaderAt
	size     int64 // of the file in bytes
	without  kinds
	sources  []*columnReader // one for each column that is read
	extra    []Column
	dynamic  []kindOf // those of extra, and those left out
	skipped  []string
	metadata Metadata

	batch     int   // most rows of a batch
	group     int   // next row group
	remaining int64 // rows left in the current one
	first     int64 // number of the first row of the current batch
	next      int64 // and of the row after it

	blank T // a row of missing values
	row   T // the row being filled
	value reflect.Value
}

// newDecoder reads the footer and assigns the columns.
func newDecoder[T Row](r parquet.ReaderAtSeeker, without kinds) (d *decoder[T], err error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, err
	}
	if err := checkFooter(r, size); err != nil {
		return nil, fmt.Errorf("%w; is it a Parquet file, whole?", err)
	}
	var f *file.Reader
	err = protect(func() (err error) {
		f, err = file.NewParquetReader(r)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("%w; is it a Parquet file, whole?", err)
	}
	d = &decoder[T]{file: f, r: r, size: size, without: without, batch: batchRows}
	d.value = reflect.ValueOf(&d.row).Elem()
	d.metadata = d.readMetadata()
	switch want := d.row.Table(); {
	case want.Name == "": // any table
	case d.metadata.Table != "" && d.metadata.Table != want.Name:
		return nil, fmt.Errorf("holds the table %s, want %s", d.metadata.Table, want.Name)
	case d.metadata.TableVersion > want.Version:
		return nil, fmt.Errorf("holds version %d of the table %s, newer than version %d known here; use a newer tool", d.metadata.TableVersion, want.Name, want.Version)
	}
	return d, d.assign()
}

func (d *decoder[T]) readMetadata() Metadata {
	kv := d.file.MetaData().KeyValueMetadata()
	find := func(key string) string {
		if v := kv.FindValue(key); v != nil {
			return *v
		}
		return ""
	}
	version, _ := strconv.Atoi(find(keyVersion)) // 0 where absent
	var warnings []string
	_ = json.Unmarshal([]byte(find(keyWarning)), &warnings) // words only, as in columnDocs
	return Metadata{Tool: find(keyTool), Config: find(keyConfig), Warnings: warnings, Table: find(keyTable), TableVersion: version}
}

// columnDocs returns the words on each column, as far as the file has them.
func (d *decoder[T]) columnDocs() map[string]columnDoc {
	docs := make(map[string]columnDoc)
	if d.without == allKinds() {
		return docs
	}
	v := d.file.MetaData().KeyValueMetadata().FindValue(keyColumns)
	if v == nil {
		return docs
	}
	var list []columnDoc
	if json.Unmarshal([]byte(*v), &list) != nil {
		return docs // words only: the values can be read without them
	}
	for _, doc := range list {
		docs[doc.Name] = doc
	}
	return docs
}

// assign finds the column of each field and the dynamic columns.
func (d *decoder[T]) assign() error {
	fixed := make(map[string]column)
	for _, c := range fixedColumns(reflect.TypeFor[T]()) {
		fixed[c.Name] = c
	}
	docs := d.columnDocs()
	schema := d.file.MetaData().Schema
	seen := make(map[string]bool)
	var slots [len(kindNames)]int
	for leaf := range schema.NumColumns() {
		s, ok := newColumnReader(schema, leaf)
		if seen[s.name] {
			return fmt.Errorf("column %q occurs twice", s.name)
		}
		seen[s.name] = true
		if c, isField := fixed[s.name]; isField {
			s.column = c
			if !ok || !s.holds(c.storage) {
				return fmt.Errorf("column %q is %v, which cannot be read as %v", s.name, s.describe(), c.arrowType())
			}
			d.sources = append(d.sources, s)
			continue
		}
		kind, ok2 := s.dynamicKind()
		if !ok || !ok2 {
			d.skipped = append(d.skipped, s.name)
			continue
		}
		d.dynamic = append(d.dynamic, kindOf{s.name, kind})
		if d.without[kind] {
			continue
		}
		doc := docs[s.name]
		words := Column{Name: s.name, Unit: doc.Unit, Doc: doc.Doc, Source: doc.Source, Range: doc.Range, Null: doc.Null, Kind: kind}
		if s.list {
			d.batch = batchVectorRows
			words.Length = max(doc.Length, 0)
		}
		dynamic, err := dynamicColumns([]Column{words})
		if err != nil {
			return err
		}
		s.column = dynamic[0]
		s.slot = slots[kind]
		slots[kind]++
		d.sources = append(d.sources, s)
		d.extra = append(d.extra, s.Column)
	}
	blank := reflect.ValueOf(&d.blank).Elem()
	for _, c := range fixedColumns(reflect.TypeFor[T]()) {
		if c.storage == storeFloat && c.nullable && !c.pointer {
			blank.Field(c.field).SetFloat(math.NaN())
		}
		if !seen[c.Name] && !c.nullable && !c.optional {
			return fmt.Errorf("column %q (%s) is missing", c.Name, c.Doc)
		}
	}
	return nil
}

// cells returns Cells with room for one row.
func (d *decoder[T]) cells() Cells {
	var n [len(kindNames)]int
	for _, c := range d.extra {
		n[c.Kind]++
	}
	return Cells{
		Floats:  make([]float64, n[Float]),
		Labels:  make([]string, n[Category]),
		Vectors: make([][]float32, n[FloatVector]),
		Bytes:   make([][]uint8, n[ByteVector]),
	}
}

// load decodes the next batch and returns its number of rows, or io.EOF.
func (d *decoder[T]) load() (n int, err error) {
	for d.remaining == 0 {
		if d.group == d.file.NumRowGroups() {
			return 0, io.EOF
		}
		group := d.file.RowGroup(d.group)
		d.group++
		d.remaining = group.NumRows()
		if d.remaining < 0 {
			return 0, fmt.Errorf("row group %d claims %d rows", d.group-1, d.remaining)
		}
		for _, s := range d.sources {
			if err := protect(func() error { return s.open(d.r, d.size, group) }); err != nil {
				return 0, fmt.Errorf("column %q: %w", s.name, err)
			}
		}
	}
	n = int(min(int64(d.batch), d.remaining))
	d.first, d.next = d.next, d.next+int64(n)
	for _, s := range d.sources {
		if err := protect(func() error { return s.read(n) }); err != nil {
			return 0, fmt.Errorf("column %q from row %d: %w", s.name, d.first, err)
		}
	}
	d.remaining -= int64(n)
	return n, nil
}

// record fills r with row i of the batch.
func (d *decoder[T]) record(i int, r *Record[T]) error {
	d.row = d.blank
	for _, s := range d.sources {
		var err error
		if s.field < 0 {
			s.cell(i, &r.Cells)
		} else {
			err = s.set(i, d.value.Field(s.field))
		}
		if err != nil {
			return fmt.Errorf("row %d: column %q: %w", d.first+int64(i), s.name, err)
		}
	}
	r.Row = d.row
	return nil
}

// protect returns a panic of f as an error: the decoders of Arrow trust lengths
// that a damaged file gets wrong.
func protect(f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the file is damaged: %v", r)
		}
	}()
	return f()
}
