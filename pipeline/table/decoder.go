package table

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
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
	dynamic  []kindOf // those of extra, and those left out
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
	if err := pages.CheckFooter(r, size); err != nil {
		return nil, fmt.Errorf("%w; is it a Parquet file, whole?", err)
	}
	var f *file.Reader
	err = pages.Protect(func() (err error) {
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
	_ = json.Unmarshal([]byte(find(keyWarning)), &warnings) // can be read without, as in columnDocs
	return Metadata{Tool: find(keyTool), Config: find(keyConfig), Warnings: warnings, Table: find(keyTable), TableVersion: version}
}

// columnDocs returns what the file says about each column. The values can be
// read without it.
func (d *decoder[T]) columnDocs() map[string]columnDoc {
	docs := make(map[string]columnDoc)
	var list []columnDoc
	if v := d.file.MetaData().KeyValueMetadata().FindValue(keyColumns); v != nil && d.without != allKinds {
		_ = json.Unmarshal([]byte(*v), &list)
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
			continue // a column of the other program's own
		}
		d.dynamic = append(d.dynamic, kindOf{s.name, kind})
		if d.without[kind] {
			continue
		}
		doc := docs[s.name]
		described := Column{Name: s.name, Unit: doc.Unit, Doc: doc.Doc, Source: doc.Source, Range: doc.Range, Null: doc.Null, Kind: kind}
		if s.list {
			d.batch = batchVectorRows
			described.Length = max(doc.Length, 0)
		}
		dynamic, err := dynamicColumns([]Column{described})
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

// cells returns DynamicValues with room for one row.
func (d *decoder[T]) cells() DynamicValues {
	var n [len(kindNames)]int
	for _, c := range d.extra {
		n[c.Kind]++
	}
	return DynamicValues{
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
			if err := pages.Protect(func() error { return s.open(d.r, d.size, group) }); err != nil {
				return 0, fmt.Errorf("column %q: %w", s.name, err)
			}
		}
	}
	n = int(min(int64(d.batch), d.remaining))
	d.first, d.next = d.next, d.next+int64(n)
	for _, s := range d.sources {
		if err := pages.Protect(func() error { return s.read(n) }); err != nil {
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
			s.cell(i, &r.Values)
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
