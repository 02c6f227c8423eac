package table

import (
	"bufio"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// buffers hold the rows of a row group until it is written, column by column
// but for the floats of dynamic columns. Of these there are hundreds, which are
// copied as they come, row by row, and told apart when the group is written.
type buffers struct {
	gathered int // rows
	bytes    int // of their values
	chunks   []chunk
	floats   []float64
	out      *bufio.Writer // of the file

	column chunk // of the floats
	raw    parquetValues
}

func newBuffers(columns int) *buffers {
	return &buffers{chunks: make([]chunk, columns), out: bufio.NewWriterSize(nil, 1<<18)}
}

// reset forgets all rows and the file.
func (b *buffers) reset() {
	b.clear()
	b.out.Reset(nil)
}

// clear forgets all rows.
func (b *buffers) clear() {
	b.gathered, b.bytes = 0, 0
	b.floats = b.floats[:0]
	for i := range b.chunks {
		b.chunks[i].clear()
	}
}

// appendFloats adds the floats of a row and returns the bytes of those that are
// not missing.
func (b *buffers) appendFloats(x []float64) (bytes int) {
	b.floats = append(room(b.floats, len(x)), x...)
	for _, v := range x {
		if !math.IsNaN(v) {
			bytes += 8
		}
	}
	return bytes
}

// room makes room for n more elements. It doubles a slice where append would add a
// quarter, since all the memory that a slice leaves behind has to be cleared first
// and collected after.
func room[E any](s []E, n int) []E {
	if cap(s)-len(s) < n {
		s = slices.Grow(s, max(n, len(s)))
	}
	return s
}

// writeGroup writes the rows as a row group, and forgets them.
func (b *buffers) writeGroup(group file.SerialRowGroupWriter, columns []column) error {
	stride := len(b.floats) / b.gathered
	for i := range columns {
		c := &columns[i]
		values := &b.chunks[i]
		if c.field < 0 && c.storage == storeFloat {
			values = &b.column
			values.takeFloats(b.floats, c.slot, stride)
		}
		w, err := group.NextColumn()
		if err == nil {
			err = values.write(w, c, &b.raw)
		}
		if err != nil {
			return fmt.Errorf("column %q: %w", c.Name, err)
		}
	}
	b.clear()
	return group.Close()
}

// chunk holds the values of one column in a row group, packed without the
// missing ones.
type chunk struct {
	levels []int16 // of a nullable column, by row: 1 for a value, 0 for a missing one

	floats  []float64
	int32s  []int32
	int64s  []int64
	bools   []bool
	text    []byte // strings, one after another
	ends    []int  // where each of them ends
	singles []float32
}

func (k *chunk) clear() {
	k.levels = k.levels[:0]
	k.floats, k.int32s, k.int64s, k.bools = k.floats[:0], k.int32s[:0], k.int64s[:0], k.bools[:0]
	k.text, k.ends = k.text[:0], k.ends[:0]
	k.singles = k.singles[:0]
}

// appendField adds a field of a row's struct and returns the bytes of its value.
func (k *chunk) appendField(c *column, v reflect.Value) (bytes int) {
	missing := false
	switch {
	case c.pointer:
		if missing = v.IsNil(); !missing {
			v = v.Elem()
		}
	case !c.nullable:
	case c.storage == storeFloat:
		missing = math.IsNaN(v.Float())
	default:
		missing = v.Len() == 0
	}
	if k.level(c, missing); missing {
		return 0
	}
	switch c.storage {
	case storeFloat:
		k.floats = append(k.floats, v.Float())
	case storeSeconds:
		k.floats = append(k.floats, Seconds(time.Duration(v.Int())))
	case storeInt32:
		k.int32s = append(k.int32s, int32(v.Int()))
		return 4
	case storeInt64:
		k.int64s = append(k.int64s, v.Int())
	case storeBool:
		k.bools = append(k.bools, v.Bool())
		return 1
	case storeString, storeCategory:
		return k.appendString(v.String())
	}
	return 8
}

// appendCell adds the cell of a dynamic column, which is no float, and returns
// the bytes of its value.
func (k *chunk) appendCell(c *column, cells *DynamicValues) (bytes int) {
	switch c.storage {
	case storeFloatVector:
		k.singles = append(k.singles, cells.Vectors[c.slot]...)
		return 4 * c.Length
	case storeByteVector:
		for _, b := range cells.Bytes[c.slot] { // Parquet stores small integers as 32 bits
			k.int32s = append(k.int32s, int32(b))
		}
		return c.Length
	}
	s := cells.Labels[c.slot]
	if k.level(c, s == ""); s == "" {
		return 0
	}
	return k.appendString(s)
}

// level says of the row to come whether its value is missing.
func (k *chunk) level(c *column, missing bool) {
	switch {
	case missing:
		k.levels = append(k.levels, 0)
	case c.nullable:
		k.levels = append(k.levels, 1)
	}
}

func (k *chunk) appendString(s string) (bytes int) {
	k.text = append(room(k.text, len(s)), s...)
	k.ends = append(k.ends, len(k.text))
	return len(s)
}

// takeFloats makes the chunk the given column of rows of floats, where NaN is
// missing.
func (k *chunk) takeFloats(rows []float64, slot, stride int) {
	k.clear()
	for at := slot; at < len(rows); at += stride {
		if x := rows[at]; math.IsNaN(x) {
			k.levels = append(k.levels, 0)
		} else {
			k.levels = append(k.levels, 1)
			k.floats = append(k.floats, x)
		}
	}
}

// write writes the values as the column of a row group.
func (k *chunk) write(w file.ColumnChunkWriter, c *column, raw *parquetValues) (err error) {
	levels, repeats := k.levels, []int16(nil)
	switch {
	case c.Length > 0:
		levels, repeats = raw.vectorLevels(w.Descr(), len(k.singles)+len(k.int32s), c.Length)
	case !c.nullable:
		levels = nil
	}
	switch w := w.(type) {
	case *file.Float64ColumnChunkWriter:
		_, err = w.WriteBatch(k.floats, levels, repeats)
	case *file.Float32ColumnChunkWriter:
		_, err = w.WriteBatch(k.singles, levels, repeats)
	case *file.Int32ColumnChunkWriter:
		_, err = w.WriteBatch(k.int32s, levels, repeats)
	case *file.Int64ColumnChunkWriter:
		_, err = w.WriteBatch(k.int64s, levels, repeats)
	case *file.BooleanColumnChunkWriter:
		_, err = w.WriteBatch(k.bools, levels, repeats)
	case *file.ByteArrayColumnChunkWriter:
		_, err = w.WriteBatch(raw.split(k.text, k.ends), levels, repeats)
	}
	return err
}

// parquetValues holds the values of a column as the writer of Parquet takes them.
type parquetValues struct {
	strings         []parquet.ByteArray
	levels, repeats []int16
}

// vectorLevels returns the levels of n elements of vectors of the given length,
// none of which is missing: each vector is a list that begins anew.
func (s *parquetValues) vectorLevels(d *schema.Column, n, length int) (levels, repeats []int16) {
	s.levels, s.repeats = resize(s.levels, n), resize(s.repeats, n)
	for i := range n {
		s.levels[i], s.repeats[i] = d.MaxDefinitionLevel(), d.MaxRepetitionLevel()
		if i%length == 0 {
			s.repeats[i] = 0
		}
	}
	return s.levels, s.repeats
}

// split returns the strings in text that end at ends.
func (s *parquetValues) split(text []byte, ends []int) []parquet.ByteArray {
	s.strings = resize(s.strings, len(ends))
	start := 0
	for i, end := range ends {
		s.strings[i] = parquet.ByteArray(text[start:end])
		start = end
	}
	return s.strings
}
