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
)

// maxVector bounds the elements of one vector.
const maxVector = 1 << 24

// source is a column of a file as it is read: the decoder of the current row
// group and the values of the current batch.
type source struct {
	column
	name   string
	leaf   int
	descr  *schema.Column
	list   bool
	defMin int16 // a definition level of a list below it stands for a missing or empty list

	chunk file.ColumnChunkReader

	def, rep []int16
	valid    []bool
	floats   []float64
	ints     []int64
	bools    []bool
	strings  []string

	// Values as the file holds them, packed without the missing ones.
	rawDouble []float64
	rawFloat  []float32
	rawInt32  []int32
	rawInt64  []int64
	rawBool   []bool
	rawBytes  []parquet.ByteArray

	vectors vectorReader
	interns map[string]string
}

// newSource describes a leaf of the schema. It reports false for one that is
// nested otherwise than as a list.
func newSource(sc *schema.Schema, leaf int) (*source, bool) {
	descr := sc.Column(leaf)
	root := sc.ColumnRoot(leaf)
	s := &source{name: root.Name(), leaf: leaf, descr: descr}
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

func (s *source) describe() string {
	if s.list {
		return "a list of " + s.descr.PhysicalType().String()
	}
	return s.descr.PhysicalType().String()
}

// plainInteger reports whether the integers of the column are numbers, not
// times, dates or decimals, and no unsigned ones that their storage cannot show.
func (s *source) plainInteger() bool {
	switch t := s.descr.LogicalType().(type) {
	case schema.NoLogicalType:
		return true
	case *schema.IntLogicalType:
		return t.IsSigned() || t.BitWidth() < 32
	}
	return false
}

// holds reports whether values of the column can be read as st.
func (s *source) holds(st storage) bool {
	if s.list {
		return false // no field of a struct is a list
	}
	switch s.descr.PhysicalType() {
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
func (s *source) dynamicKind() (Kind, bool) {
	switch t := s.descr.PhysicalType(); {
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
func (s *source) open(r io.ReaderAt, size int64, group *file.RowGroupReader) error {
	pages, err := newPageReader(r, size, group, s.leaf, s.descr)
	if err != nil {
		return err
	}
	s.chunk = file.NewColumnReader(s.descr, pages, memory.DefaultAllocator, &scratch)
	s.vectors = vectorReader{}
	return nil
}

// read decodes the next n rows.
func (s *source) read(n int) error {
	s.valid = resize(s.valid, n)
	if s.list {
		return s.readVectors(n)
	}
	s.def = resize(s.def, n)
	total, packed, err := s.readPacked(n)
	if err != nil {
		return err
	}
	if err := s.chunk.Err(); err != nil {
		return err
	}
	if total != int64(n) {
		return fmt.Errorf("%d rows where %d were promised", total, n)
	}
	present := 0
	for i := range s.valid {
		s.valid[i] = s.descr.MaxDefinitionLevel() == 0 || s.def[i] == s.descr.MaxDefinitionLevel()
		if s.valid[i] {
			present++
		}
	}
	if present != packed {
		return fmt.Errorf("%d values where %d were promised", packed, present)
	}
	return s.spread(n)
}

// readPacked decodes n levels and the values that belong to them.
func (s *source) readPacked(n int) (total int64, packed int, err error) {
	size := int64(n)
	switch c := s.chunk.(type) {
	case *file.Float64ColumnChunkReader:
		s.rawDouble = resize(s.rawDouble, n)
		return c.ReadBatch(size, s.rawDouble, s.def, s.rep)
	case *file.Float32ColumnChunkReader:
		s.rawFloat = resize(s.rawFloat, n)
		return c.ReadBatch(size, s.rawFloat, s.def, s.rep)
	case *file.Int32ColumnChunkReader:
		s.rawInt32 = resize(s.rawInt32, n)
		return c.ReadBatch(size, s.rawInt32, s.def, s.rep)
	case *file.Int64ColumnChunkReader:
		s.rawInt64 = resize(s.rawInt64, n)
		return c.ReadBatch(size, s.rawInt64, s.def, s.rep)
	case *file.BooleanColumnChunkReader:
		s.rawBool = resize(s.rawBool, n)
		return c.ReadBatch(size, s.rawBool, s.def, s.rep)
	case *file.ByteArrayColumnChunkReader:
		s.rawBytes = resize(s.rawBytes, n)
		return c.ReadBatch(size, s.rawBytes, s.def, s.rep)
	}
	return 0, 0, fmt.Errorf("unexpected physical type %v", s.descr.PhysicalType())
}

// spread converts the packed values and puts each at its row.
func (s *source) spread(n int) error {
	switch s.storage {
	case storeString, storeCategory:
		s.strings = resize(s.strings, n)
		spread(s.strings, s.valid, s.rawBytes, s.intern)
	case storeBool:
		s.bools = resize(s.bools, n)
		spread(s.bools, s.valid, s.rawBool, func(b bool) bool { return b })
	case storeFloat, storeSeconds:
		s.floats = resize(s.floats, n)
		switch s.descr.PhysicalType() {
		case parquet.Types.Double:
			spread(s.floats, s.valid, s.rawDouble, toFloat)
		case parquet.Types.Float:
			spread(s.floats, s.valid, s.rawFloat, toFloat)
		case parquet.Types.Int32:
			spread(s.floats, s.valid, s.rawInt32, toFloat)
		case parquet.Types.Int64:
			spread(s.floats, s.valid, s.rawInt64, toFloat)
		}
	case storeInt32, storeInt64:
		s.ints = resize(s.ints, n)
		if s.descr.PhysicalType() == parquet.Types.Int32 {
			spread(s.ints, s.valid, s.rawInt32, func(x int32) int64 { return int64(x) })
		} else {
			spread(s.ints, s.valid, s.rawInt64, func(x int64) int64 { return x })
		}
	}
	return nil
}

func toFloat[N int32 | int64 | float32 | float64](x N) float64 { return float64(x) }

func spread[D, S any](dst []D, valid []bool, packed []S, convert func(S) D) {
	k := 0
	for i := range dst {
		if valid[i] {
			dst[i] = convert(packed[k])
			k++
		}
	}
}

// intern returns b as a string and spares most copies of the values of a
// category or of an id that stands in many rows.
func (s *source) intern(b parquet.ByteArray) string {
	if v, ok := s.interns[string(b)]; ok {
		return v
	}
	const most, longest = 4096, 256
	if len(s.interns) >= most || s.interns == nil {
		s.interns = make(map[string]string)
	}
	v := string(b)
	if len(v) <= longest {
		s.interns[v] = v
	}
	return v
}

var errMissing = errors.New("missing value in a column without missing values")

// set writes row i of the batch to a field of the row's struct, which a missing
// value leaves as it is.
func (s *source) set(i int, field reflect.Value) error {
	if !s.valid[i] {
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
		field.SetString(s.strings[i])
	case storeBool:
		field.SetBool(s.bools[i])
	case storeFloat:
		field.SetFloat(s.floats[i])
	case storeInt32, storeInt64:
		if field.OverflowInt(s.ints[i]) {
			return fmt.Errorf("%d does not fit into %v", s.ints[i], field.Type())
		}
		field.SetInt(s.ints[i])
	case storeSeconds:
		d, err := Duration(s.floats[i])
		if err != nil {
			return err
		}
		field.SetInt(int64(d))
	}
	return nil
}

// cell writes row i of the batch to its slot of cells.
func (s *source) cell(i int, cells *Cells) error {
	switch s.Kind {
	case Float:
		if cells.Floats[s.slot] = math.NaN(); s.valid[i] {
			cells.Floats[s.slot] = s.floats[i]
		}
	case Category:
		if cells.Labels[s.slot] = ""; s.valid[i] {
			cells.Labels[s.slot] = s.strings[i]
		}
	case FloatVector:
		if cells.Vectors[s.slot] = nil; s.valid[i] {
			cells.Vectors[s.slot] = s.vectors.floats[s.vectors.offsets[i]:s.vectors.offsets[i+1]]
		}
	case ByteVector:
		if cells.Bytes[s.slot] = nil; s.valid[i] {
			cells.Bytes[s.slot] = s.vectors.bytes[s.vectors.offsets[i]:s.vectors.offsets[i+1]]
		}
	}
	return nil
}

func resize[E any](s []E, n int) []E {
	if cap(s) < n {
		return make([]E, n)
	}
	return s[:n]
}
