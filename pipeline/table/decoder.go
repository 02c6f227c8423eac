package table

import (
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strconv"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"

	"phonocycle/pipeline/table/pages"
)

// Rows are decoded so many at a time; fewer where vectors make them large.
const (
	batchRows       = 1024
	batchVectorRows = 64
)

// decoder reads one file.
type decoder[T Row] struct {
	file     *file.Reader
	r        io.ReaderAt
	size     int64 // of the file in bytes
	without  kinds
	sources  []*columnReader // one for each column that is read
	extra    []Column
	dynamic  []Column // names and kinds of those of extra and those left out
	metadata Metadata

	batch     int   // most rows of a batch
	group     int   // next row group
	remaining int64 // rows left in the current one
	first     int64 // number of the first row of the current batch
	next      int64 // and of the row after it

	record Record[T] // the row being filled
}

// newDecoder reads the footer and assigns the columns.
func newDecoder[T Row](r parquet.ReaderAtSeeker, without kinds) (d *decoder[T], err error) {
	footer, size, err := readFooter(r)
	if err != nil {
		return nil, err
	}
	if err := checkDigest(r, size, footer); err != nil {
		return nil, err
	}
	if err := pages.CheckFooter(footer); err != nil {
		return nil, notWhole(err)
	}
	var f *file.Reader
	err = pages.Protect(func() (err error) {
		f, err = file.NewParquetReader(r)
		return err
	})
	if err != nil {
		return nil, notWhole(err)
	}
	d = &decoder[T]{file: f, r: r, size: size, without: without, batch: batchRows}
	d.metadata = d.readMetadata()
	switch want := d.record.Row.Table(); {
	case want.Name == "": // any table
	case d.metadata.Table != "" && d.metadata.Table != want.Name:
		return nil, fmt.Errorf("holds the table %s, want %s", d.metadata.Table, want.Name)
	case d.metadata.Table != "" && d.metadata.TableVersion != want.Version:
		return nil, fmt.Errorf("holds version %d of the table %s, made by %s, and this program reads version %d; read it with the program that made it, or make it again",
			d.metadata.TableVersion, want.Name, d.metadata.Tool, want.Version)
	}
	return d, d.assign()
}

// key returns a value of the key/value metadata, empty where the file lacks it.
func (d *decoder[T]) key(name string) string {
	if v := d.file.MetaData().KeyValueMetadata().FindValue(name); v != nil {
		return *v
	}
	return ""
}

// readMetadata leaves out what cannot be read: the values can be read without.
func (d *decoder[T]) readMetadata() Metadata {
	version, _ := strconv.Atoi(d.key(keyVersion))
	var warnings []string
	_ = json.Unmarshal([]byte(d.key(keyWarning)), &warnings)
	return Metadata{Tool: d.key(keyTool), Config: d.key(keyConfig), Warnings: warnings, Table: d.key(keyTable), TableVersion: version}
}

// columnDocs returns what the file says about each column, as far as it can be
// read.
func (d *decoder[T]) columnDocs() map[string]columnDoc {
	docs := make(map[string]columnDoc)
	if d.without == allKinds {
		return docs
	}
	var list []columnDoc
	_ = json.Unmarshal([]byte(d.key(keyColumns)), &list)
	for _, doc := range list {
		docs[doc.Name] = doc
	}
	return docs
}

// assign finds the column of each field and the dynamic columns.
func (d *decoder[T]) assign() error {
	row := reflect.ValueOf(&d.record.Row).Elem()
	fixed, fields := fixedColumns(row.Type()), make(map[string]column)
	for _, c := range fixed {
		fields[c.Name] = c
		field := row.Field(c.field)
		field.Set(c.missing(field.Type())) // to stay where the file lacks the column
	}
	docs := d.columnDocs()
	schema := d.file.MetaData().Schema
	seen := make(map[string]bool)
	var dynamic []*columnReader
	for leaf := range schema.NumColumns() {
		s := newColumnReader(schema, leaf)
		if seen[s.Name] {
			return fmt.Errorf("column %q occurs twice", s.Name)
		}
		seen[s.Name] = true
		if c, isField := fields[s.Name]; isField {
			if s.column = c; !s.holds(c.storage) {
				return fmt.Errorf("column %q is %v, which cannot be read as %v", s.Name, s.describe(), c.arrowType())
			}
			d.sources = append(d.sources, s)
			continue
		}
		kind, ok := s.dynamicKind()
		if !ok {
			continue // a column of the other program's own
		}
		doc := docs[s.Name]
		number := kind == Float && doc.Label
		if number {
			kind = Category
		}
		d.dynamic = append(d.dynamic, Column{Name: s.Name, Kind: kind, Number: number})
		if d.without[kind] {
			continue
		}
		c := Column{Name: s.Name, Unit: doc.Unit, Doc: doc.Doc, Source: doc.Source, Range: doc.Range, Null: doc.Null, Kind: kind, Number: number}
		if s.list {
			d.batch = batchVectorRows
			c.Length = max(doc.Length, 0)
		}
		d.extra = append(d.extra, c)
		dynamic = append(dynamic, s)
	}
	for _, c := range fixed {
		if !seen[c.Name] && !c.nullable && !c.optional {
			return fmt.Errorf("column %q (%s) is missing", c.Name, c.Doc)
		}
	}
	return d.bind(dynamic)
}

// bind chooses where the values of each column go, those of dynamic columns in
// the order of extra.
func (d *decoder[T]) bind(dynamic []*columnReader) error {
	columns, err := dynamicColumns(d.extra)
	if err != nil {
		return err
	}
	var counts [len(kindNames)]int
	for i, c := range columns {
		dynamic[i].column = c
		counts[c.Kind]++
	}
	values := reflect.ValueOf(&d.record.Values).Elem()
	for kind, n := range counts {
		list := values.Field(kind)
		list.Set(reflect.MakeSlice(list.Type(), n, n))
	}
	d.sources = append(d.sources, dynamic...)
	for _, s := range d.sources {
		s.bind(reflect.ValueOf(&d.record.Row).Elem(), values)
	}
	return nil
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
			if err := pages.Protect(func() error { return s.open(d.r, d.size, group) }); err != nil {
				return 0, fmt.Errorf("column %q: %w", s.Name, err)
			}
		}
	}
	n = int(min(int64(d.batch), d.remaining))
	d.first, d.next = d.next, d.next+int64(n)
	for _, s := range d.sources {
		if err := pages.Protect(func() error { return s.read(n) }); err != nil {
			return 0, fmt.Errorf("column %q from row %d: %w", s.Name, d.first, err)
		}
	}
	d.remaining -= int64(n)
	return n, nil
}

// read fills the record with row i of the batch.
func (d *decoder[T]) read(i int) error {
	for _, s := range d.sources {
		if err := s.set(i); err != nil {
			return fmt.Errorf("row %d: column %q: %w", d.first+int64(i), s.Name, err)
		}
	}
	return nil
}
