package table

import (
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"sync"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"

	"phonocycle/pipeline/table/pages"
)

// columnReader reads a column of a file, a batch of rows at a time.
type columnReader struct {
	column
	name   string
	leaf   int
	descr  *schema.Column
	typ    parquet.Type // of the values in the file
	list   bool
	defMin int16 // a definition level of a list below it stands for a missing or empty list

	pages pages.Reader
	chunk file.ColumnChunkReader

	def, rep []int16
	at       []int // of each row of the batch, the index of its value in packed; -1 where it is missing
	packed   packed
	vectors  vectorReader
	interned map[string]string
}

// packed holds values in the type that the file has, without the missing ones.
type packed struct {
	doubles []float64
	floats  []float32
	int32s  []int32
	int64s  []int64
	bools   []bool
	strings []parquet.ByteArray
}

// newColumnReader describes a leaf of the schema. It reports false for one that is
// nested otherwise than as a list.
func newColumnReader(sc *schema.Schema, leaf int) (*columnReader, bool) {
	descr := sc.Column(leaf)
	root := sc.ColumnRoot(leaf)
	s := &columnReader{name: root.Name(), leaf: leaf, descr: descr, typ: descr.PhysicalType()}
	switch depth := len(descr.ColumnPath()); {
	case depth == 1 && descr.MaxRepetitionLevel() == 0:
		return s, true
	case depth == 3 && descr.MaxRepetitionLevel() == 1 && root.RepetitionType() != parquet.Repetitions.Repeated &&
		descr.SchemaNode().RepetitionType() != parquet.Repetitions.Repeated:
		s.list = true
		s.defMin = 1
		if root.RepetitionType() == parquet.Repetitions.Optional {
			s.defMin = 2
		}
		return s, true
	}
	return s, false
}

func (s *columnReader) describe() string {
	if s.list {
		return "a list of " + s.typ.String()
	}
	return s.typ.String()
}

// plainInteger reports whether the integers of the column are numbers, not
// times, dates or decimals, and no unsigned ones that their storage cannot show.
func (s *columnReader) plainInteger() bool {
	switch t := s.descr.LogicalType().(type) {
	case schema.NoLogicalType:
		return true
	case *schema.IntLogicalType:
		return t.IsSigned() || t.BitWidth() < 32
	}
	return false
}

// holds reports whether values of the column can be read as st.
func (s *columnReader) holds(st storage) bool {
	if s.list {
		return false // no field of a struct is a list
	}
	switch s.typ {
	case parquet.Types.ByteArray:
		return st == storeString || st == storeCategory
	case parquet.Types.Double, parquet.Types.Float:
		return st == storeFloat || st == storeSeconds
	case parquet.Types.Int32, parquet.Types.Int64:
		return s.plainInteger() && (st == storeInt32 || st == storeInt64 || st == storeFloat || st == storeSeconds)
	case parquet.Types.Boolean:
		return st == storeBool
	}
	return false
}

// dynamicKind returns the kind of dynamic column that the values make.
func (s *columnReader) dynamicKind() (Kind, bool) {
	switch t := s.typ; {
	case s.list && t == parquet.Types.Float:
		return FloatVector, true
	case s.list && t == parquet.Types.Int32:
		l, ok := s.descr.LogicalType().(*schema.IntLogicalType)
		return ByteVector, ok && l.BitWidth() == 8 && !l.IsSigned()
	case s.list:
		return 0, false
	case t == parquet.Types.ByteArray:
		return Category, true
	case t == parquet.Types.Double, t == parquet.Types.Float:
		return Float, true
	case t == parquet.Types.Int32, t == parquet.Types.Int64:
		return Float, s.plainInteger()
	}
	return 0, false
}

// scratch serves Arrow's column readers, which take buffers from it only to skip
// values; none are skipped here.
var scratch = sync.Pool{New: func() any { return memory.NewResizableBuffer(memory.DefaultAllocator) }}

// open begins to read the column's chunk of a row group.
func (s *columnReader) open(r io.ReaderAt, size int64, group *file.RowGroupReader) error {
	if err := s.pages.Open(r, size, group, s.leaf, s.descr); err != nil {
		return err
	}
	s.chunk = file.NewColumnReader(s.descr, &s.pages, memory.DefaultAllocator, &scratch)
	s.vectors.reset()
	return nil
}

// read decodes the next n rows.
func (s *columnReader) read(n int) error {
	s.at = resize(s.at, n)
	if s.list {
		return s.readVectors(n)
	}
	total, values, err := s.readBatch(n)
	if err != nil {
		return err
	}
	if total != int64(n) {
		return fmt.Errorf("%d rows where %d were promised", total, n)
	}
	highest, next := s.descr.MaxDefinitionLevel(), 0
	for i := range s.at {
		if s.at[i] = -1; highest == 0 || s.def[i] == highest {
			s.at[i] = next
			next++
		}
	}
	if next != values {
		return fmt.Errorf("%d values where %d were promised", values, next)
	}
	return nil
}

// readBatch decodes n levels and the values that belong to them.
func (s *columnReader) readBatch(n int) (levels int64, values int, err error) {
	size := int64(n)
	s.def, s.rep = resize(s.def, n), resize(s.rep, n)
	switch p := &s.packed; c := s.chunk.(type) {
	case *file.Float64ColumnChunkReader:
		p.doubles = resize(p.doubles, n)
		levels, values, err = c.ReadBatch(size, p.doubles, s.def, s.rep)
	case *file.Float32ColumnChunkReader:
		p.floats = resize(p.floats, n)
		levels, values, err = c.ReadBatch(size, p.floats, s.def, s.rep)
	case *file.Int32ColumnChunkReader:
		p.int32s = resize(p.int32s, n)
		levels, values, err = c.ReadBatch(size, p.int32s, s.def, s.rep)
	case *file.Int64ColumnChunkReader:
		p.int64s = resize(p.int64s, n)
		levels, values, err = c.ReadBatch(size, p.int64s, s.def, s.rep)
	case *file.BooleanColumnChunkReader:
		p.bools = resize(p.bools, n)
		levels, values, err = c.ReadBatch(size, p.bools, s.def, s.rep)
	case *file.ByteArrayColumnChunkReader:
		p.strings = resize(p.strings, n)
		levels, values, err = c.ReadBatch(size, p.strings, s.def, s.rep)
	default:
		err = fmt.Errorf("unexpected physical type %v", s.typ)
	}
	if err == nil {
		err = s.chunk.Err()
	}
	return levels, values, err
}

// float returns the number at k.
func (s *columnReader) float(k int) float64 {
	switch s.typ {
	case parquet.Types.Double:
		return s.packed.doubles[k]
	case parquet.Types.Float:
		return float64(s.packed.floats[k])
	}
	return float64(s.integer(k))
}

// integer returns the integer at k.
func (s *columnReader) integer(k int) int64 {
	if s.typ == parquet.Types.Int32 {
		return int64(s.packed.int32s[k])
	}
	return s.packed.int64s[k]
}

// text returns the string at k and spares most copies of the values of a
// category or of an id that stands in many rows.
func (s *columnReader) text(k int) string {
	b := s.packed.strings[k]
	if v, ok := s.interned[string(b)]; ok {
		return v
	}
	const most, longest = 4096, 256
	if len(s.interned) >= most || s.interned == nil {
		s.interned = make(map[string]string)
	}
	v := string(b)
	if len(v) <= longest {
		s.interned[v] = v
	}
	return v
}

var errMissing = errors.New("missing value in a column without missing values")

// set writes row i of the batch to a field of the row's struct, which a missing
// value leaves as it is.
func (s *columnReader) set(i int, field reflect.Value) error {
	k := s.at[i]
	if k < 0 {
		if s.nullable || s.optional {
			return nil
		}
		return errMissing
	}
	if s.pointer {
		field.Set(reflect.New(field.Type().Elem()))
		field = field.Elem()
	}
	switch s.storage {
	case storeString, storeCategory:
		field.SetString(s.text(k))
	case storeBool:
		field.SetBool(s.packed.bools[k])
	case storeFloat:
		field.SetFloat(s.float(k))
	case storeInt32, storeInt64:
		v := s.integer(k)
		if field.OverflowInt(v) {
			return fmt.Errorf("%d does not fit into %v", v, field.Type())
		}
		field.SetInt(v)
	case storeSeconds:
		d, err := Duration(s.float(k))
		if err != nil {
			return err
		}
		field.SetInt(int64(d))
	}
	return nil
}

// cell writes row i of the batch to its slot of the dynamic values.
func (s *columnReader) cell(i int, cells *DynamicValues) {
	k := s.at[i]
	switch s.Kind {
	case Float:
		if cells.Floats[s.slot] = math.NaN(); k >= 0 {
			cells.Floats[s.slot] = s.float(k)
		}
	case Category:
		if cells.Labels[s.slot] = ""; k >= 0 {
			cells.Labels[s.slot] = s.text(k)
		}
	case FloatVector:
		if cells.Vectors[s.slot] = nil; k >= 0 {
			cells.Vectors[s.slot] = s.vectors.floats[s.vectors.offsets[i]:s.vectors.offsets[i+1]]
		}
	case ByteVector:
		if cells.Bytes[s.slot] = nil; k >= 0 {
			cells.Bytes[s.slot] = s.vectors.bytes[s.vectors.offsets[i]:s.vectors.offsets[i+1]]
		}
	}
}

func resize[E any](s []E, n int) []E {
	if cap(s) < n {
		return make([]E, n)
	}
	return s[:n]
}
