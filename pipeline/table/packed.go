package table

import (
	"fmt"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
)

// packed holds values of one column in the type that the file has, without the
// missing ones.
type packed struct {
	doubles []float64
	floats  []float32
	int32s  []int32
	int64s  []int64
	bools   []bool
	strings []parquet.ByteArray
}

func (p *packed) clear() {
	p.doubles, p.floats, p.int32s, p.int64s = p.doubles[:0], p.floats[:0], p.int32s[:0], p.int64s[:0]
	p.bools, p.strings = p.bools[:0], p.strings[:0]
}

// write writes the values with their levels.
func (p *packed) write(w file.ColumnChunkWriter, def, rep []int16) (err error) {
	switch w := w.(type) {
	case *file.Float64ColumnChunkWriter:
		_, err = w.WriteBatch(p.doubles, def, rep)
	case *file.Float32ColumnChunkWriter:
		_, err = w.WriteBatch(p.floats, def, rep)
	case *file.Int32ColumnChunkWriter:
		_, err = w.WriteBatch(p.int32s, def, rep)
	case *file.Int64ColumnChunkWriter:
		_, err = w.WriteBatch(p.int64s, def, rep)
	case *file.BooleanColumnChunkWriter:
		_, err = w.WriteBatch(p.bools, def, rep)
	case *file.ByteArrayColumnChunkWriter:
		_, err = w.WriteBatch(p.strings, def, rep)
	}
	return err
}

// read decodes as many levels as def has room for, and the values that belong to
// them.
func (p *packed) read(r file.ColumnChunkReader, def, rep []int16) (levels int64, values int, err error) {
	switch r := r.(type) {
	case *file.Float64ColumnChunkReader:
		levels, values, err = readBatch(r, &p.doubles, def, rep)
	case *file.Float32ColumnChunkReader:
		levels, values, err = readBatch(r, &p.floats, def, rep)
	case *file.Int32ColumnChunkReader:
		levels, values, err = readBatch(r, &p.int32s, def, rep)
	case *file.Int64ColumnChunkReader:
		levels, values, err = readBatch(r, &p.int64s, def, rep)
	case *file.BooleanColumnChunkReader:
		levels, values, err = readBatch(r, &p.bools, def, rep)
	case *file.ByteArrayColumnChunkReader:
		levels, values, err = readBatch(r, &p.strings, def, rep)
	default:
		err = fmt.Errorf("unexpected physical type %v", r.Type())
	}
	if err == nil {
		err = r.Err()
	}
	return levels, values, err
}

// batchReader is a column reader of Arrow for values of type E.
type batchReader[E any] interface {
	ReadBatch(n int64, values []E, def, rep []int16) (levels int64, read int, err error)
}

func readBatch[E any](r batchReader[E], values *[]E, def, rep []int16) (int64, int, error) {
	*values = resize(*values, len(def))
	return r.ReadBatch(int64(len(def)), *values, def, rep)
}

func resize[E any](s []E, n int) []E {
	if cap(s) < n {
		return make([]E, n)
	}
	return s[:n]
}
