package table

import (
	"bufio"
	"crypto/sha256"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"

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
	out      *bufio.Writer // of the file, through digest
	digest   *digester

	column       chunk   // of the floats
	def, repeats []int16 // of the elements of vectors
}

func newBuffers(columns int) *buffers {
	return &buffers{chunks: make([]chunk, columns), out: bufio.NewWriterSize(nil, 1<<18), digest: &digester{hash: sha256.New()}}
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
			def, repeats := values.levels, []int16(nil)
			if c.Length > 0 {
				def, repeats = b.vectorLevels(w.Descr(), c.Length)
			}
			err = values.write(w, def, repeats)
		}
		if err != nil {
			return fmt.Errorf("column %q: %w", c.Name, err)
		}
	}
	b.clear()
	return group.Close()
}

// vectorLevels returns the levels of the elements of vectors, none of which is
// missing: each vector is a list that begins anew.
func (b *buffers) vectorLevels(d *schema.Column, length int) (def, repeats []int16) {
	n := b.gathered * length
	b.def, b.repeats = resize(b.def, n), resize(b.repeats, n)
	for i := range n {
		b.def[i], b.repeats[i] = d.MaxDefinitionLevel(), d.MaxRepetitionLevel()
		if i%length == 0 {
			b.repeats[i] = 0
		}
	}
	return b.def, b.repeats
}

// chunk holds the values of one column in a row group.
type chunk struct {
	packed
	levels []int16 // of a nullable column, by row: 1 for a value, 0 for a missing one
	text   []byte  // in which the strings lie one after another
}

func (k *chunk) clear() {
	k.packed.clear()
	k.levels, k.text = k.levels[:0], k.text[:0]
}

// appendField adds a field of a row's struct and returns the bytes of its value.
func (k *chunk) appendField(c *column, row reflect.Value) (bytes int) {
	v, missing := c.valueIn(row)
	if k.level(c, missing); missing {
		return 0
	}
	switch c.storage {
	case storeFloat:
		k.doubles = append(k.doubles, v.Float())
	case storeSeconds:
		k.doubles = append(k.doubles, Seconds(time.Duration(v.Int())))
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
		k.floats = append(k.floats, cells.Vectors[c.slot]...)
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
	if c.storage == storeNumber {
		x, _ := parseNumber(s) // checked before
		k.doubles = append(k.doubles, x)
		return 8
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

// appendString adds a string. Those before it stay where they are when the text
// moves to a larger array.
func (k *chunk) appendString(s string) (bytes int) {
	k.text = append(room(k.text, len(s)), s...)
	k.strings = append(k.strings, k.text[len(k.text)-len(s):])
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
			k.doubles = append(k.doubles, x)
		}
	}
}
