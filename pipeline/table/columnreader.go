package table

import (
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
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
	leaf   int
	descr  *schema.Column
	typ    parquet.Type // of the values in the file
	flat   bool         // neither nested nor repeated
	list   bool
	defMin int16 // a definition level of a list below it stands for a missing or empty list

	pages pages.Reader
	chunk file.ColumnChunkReader

	def, rep []int16
	at       []int // of each row of the batch, the index of its value in packed; -1 where it is missing
	packed   packed
	vectors  vectorReader
	interned map[string]string

	target reflect.Value // field or dynamic value of the row that is read
	absent reflect.Value // what the target gets for a missing value; invalid where none may be
}

// newColumnReader describes a leaf of the schema.
func newColumnReader(sc *schema.Schema, leaf int) *columnReader {
	descr := sc.Column(leaf)
	root := sc.ColumnRoot(leaf)
	s := &columnReader{leaf: leaf, descr: descr, typ: descr.PhysicalType()}
	s.Name = root.Name()
	switch depth := len(descr.ColumnPath()); {
	case depth == 1:
		s.flat = descr.MaxRepetitionLevel() == 0
	case depth == 3 && descr.MaxRepetitionLevel() == 1 && root.RepetitionType() != parquet.Repetitions.Repeated &&
		descr.SchemaNode().RepetitionType() != parquet.Repetitions.Repeated:
		s.list = true
		s.defMin = 1
		if root.RepetitionType() == parquet.Repetitions.Optional {
			s.defMin = 2
		}
	}
	return s
}

func (s *columnReader) describe() string {
	if s.list {
		return "a list of " + s.typ.String()
	}
	return s.typ.String()
}

// plainInteger reports whether the column holds integers that are numbers, not
// times, dates or decimals, and no unsigned ones that their storage cannot show.
func (s *columnReader) plainInteger() bool {
	if s.typ != parquet.Types.Int32 && s.typ != parquet.Types.Int64 {
		return false
	}
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
	switch st {
	case storeString, storeCategory:
		return s.flat && s.typ == parquet.Types.ByteArray
	case storeFloat, storeSeconds, storeNumber:
		return s.flat && (s.typ == parquet.Types.Double || s.typ == parquet.Types.Float || s.plainInteger())
	case storeInt32, storeInt64:
		return s.flat && s.plainInteger()
	case storeBool:
		return s.flat && s.typ == parquet.Types.Boolean
	case storeFloatVector:
		return s.list && s.typ == parquet.Types.Float
	}
	l, ok := s.descr.LogicalType().(*schema.IntLogicalType)
	return s.list && s.typ == parquet.Types.Int32 && ok && l.BitWidth() == 8 && !l.IsSigned()
}

// dynamicKind returns the kind of dynamic column that the values make, or false
// where they make none.
func (s *columnReader) dynamicKind() (Kind, bool) {
	kind := slices.IndexFunc(kindStorage[:], s.holds)
	return Kind(kind), kind >= 0
}

// bind chooses where the values go: to a field of row, or to their slot among the
// dynamic values.
func (s *columnReader) bind(row, dynamic reflect.Value) {
	if s.field >= 0 {
		s.target = row.Field(s.field)
	} else {
		s.target = dynamic.Field(int(s.Kind)).Index(s.slot)
	}
	if s.nullable || s.optional || s.list {
		s.absent = s.missing(s.target.Type())
	}
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
	total, values, err := s.decode(n)
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

// decode decodes n levels and the values that belong to them.
func (s *columnReader) decode(n int) (levels int64, values int, err error) {
	s.def, s.rep = resize(s.def, n), resize(s.rep, n)
	return s.packed.read(s.chunk, s.def, s.rep)
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

// set writes row i of the batch to the target.
func (s *columnReader) set(i int) error {
	k, target := s.at[i], s.target
	if k < 0 {
		if !s.absent.IsValid() {
			return errMissing
		}
		target.Set(s.absent)
		return nil
	}
	if s.pointer {
		target.Set(reflect.New(target.Type().Elem()))
		target = target.Elem()
	}
	switch s.storage {
	case storeString, storeCategory:
		target.SetString(s.text(k))
	case storeBool:
		target.SetBool(s.packed.bools[k])
	case storeFloat:
		target.SetFloat(s.float(k))
	case storeNumber:
		target.SetString(NumberText(s.float(k)))
	case storeInt32, storeInt64:
		v := s.integer(k)
		if target.OverflowInt(v) {
			return fmt.Errorf("%d does not fit into %v", v, target.Type())
		}
		target.SetInt(v)
	case storeSeconds:
		d, err := Duration(s.float(k))
		if err != nil {
			return err
		}
		target.SetInt(int64(d))
	case storeFloatVector:
		target.Set(reflect.ValueOf(s.vectors.floats[s.vectors.offsets[i]:s.vectors.offsets[i+1]]))
	case storeByteVector:
		target.Set(reflect.ValueOf(s.vectors.bytes[s.vectors.offsets[i]:s.vectors.offsets[i+1]]))
	}
	return nil
}
