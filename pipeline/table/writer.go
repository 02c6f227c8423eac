package table

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"reflect"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
)

// A row group ends when it holds either limit; both depend on the rows alone,
// so that the same rows always give the same row groups.
const (
	maxGroupRows  = 1 << 16
	maxGroupBytes = 8 << 20
)

// Writer writes one file of a table. It is not safe for concurrent use.
type Writer[T Row] struct {
	encoder[T]
	pending *pendingFile
	closed  bool
}

// Create begins the file at path, which must not exist yet, with the columns of
// T followed by extra. Nothing appears under path before Commit.
func Create[T Row](path string, extra []Column, meta Metadata) (*Writer[T], error) {
	if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("create %s: %w; resume the run or choose another folder", path, fs.ErrExist)
	}
	pending, err := createPending(path)
	if err != nil {
		return nil, err
	}
	w := &Writer[T]{pending: pending}
	if err := w.encoder.start(pending.file, extra, meta); err != nil {
		return nil, errors.Join(fmt.Errorf("create %s: %w", path, err), pending.abort())
	}
	return w, nil
}

// Append adds a row with the values of the dynamic columns, whose numbers must
// be those of the columns of each kind. Nothing of row or extra is kept.
func (w *Writer[T]) Append(row T, extra Cells) error {
	if w.closed {
		return fmt.Errorf("append to %s: %w", w.pending.path, fs.ErrClosed)
	}
	if err := w.encoder.append(row, extra); err != nil {
		return fmt.Errorf("write %s: row %d: %w", w.pending.path, w.rows, err)
	}
	return nil
}

// Rows returns the number of rows appended.
func (w *Writer[T]) Rows() int64 { return w.rows }

// Commit writes what is left, syncs the file, gives it its name and syncs the
// folder. On failure nothing is left behind.
func (w *Writer[T]) Commit() error {
	if w.closed {
		return fmt.Errorf("commit %s: %w", w.pending.path, fs.ErrClosed)
	}
	w.closed = true
	if err := w.encoder.finish(); err != nil {
		return errors.Join(fmt.Errorf("write %s: %w", w.pending.path, err), w.pending.abort())
	}
	if _, err := os.Lstat(w.pending.path); err == nil {
		return errors.Join(fmt.Errorf("rename to %s: %w; does another process write the same part?", w.pending.path, fs.ErrExist), w.pending.abort())
	}
	return w.pending.commit()
}

// Abort removes the unfinished file. After Commit it does nothing, so that it
// can be deferred.
func (w *Writer[T]) Abort() error {
	if w.closed {
		return nil
	}
	w.closed = true
	w.encoder.release()
	return w.pending.abort()
}

// encoder turns rows into the bytes of a Parquet file.
type encoder[T Row] struct {
	columns  []column
	counts   [len(kindNames)]int // of dynamic columns by kind
	builders []array.Builder
	file     *pqarrow.FileWriter

	sink *quietWriter
	err  error // first failure; final

	row   T             // the row being appended
	value reflect.Value // row, addressable

	rows       int64
	groupRows  int
	groupBytes int
}

func (e *encoder[T]) start(w io.Writer, extra []Column, meta Metadata) error {
	e.value = reflect.ValueOf(&e.row).Elem()
	dynamic, err := dynamicColumns(extra)
	if err != nil {
		return err
	}
	e.columns = append(fixedColumns(reflect.TypeFor[T]()), dynamic...)
	if err := checkColumns(e.columns); err != nil {
		return err
	}
	for _, c := range extra {
		e.counts[c.Kind]++
	}
	schema, err := arrowSchema(e.row.Table(), e.columns, meta)
	if err != nil {
		return err
	}
	e.builders = make([]array.Builder, len(e.columns))
	for i := range e.columns {
		e.builders[i] = array.NewBuilder(memory.DefaultAllocator, e.columns[i].builderType())
	}
	e.sink = &quietWriter{w: bufio.NewWriterSize(w, 1<<18)}
	e.file, err = pqarrow.NewFileWriter(schema, e.sink, writerProperties(e.columns), pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	return err
}

// builderType is arrowType but for categories and vectors. Parquet knows
// dictionaries as an encoding only, and its writer makes a fresh one for each
// row group out of plain strings. It knows lists of fixed size as lists, and
// Arrow 17 for Go gets the levels of a required one right only if it is built as such.
// The stored Arrow schema alone tells them from strings and lists.
func (c *column) builderType() arrow.DataType {
	switch c.storage {
	case storeCategory:
		return arrow.BinaryTypes.String
	case storeFloatVector:
		return arrow.ListOf(arrow.PrimitiveTypes.Float32)
	case storeByteVector:
		return arrow.ListOf(arrow.PrimitiveTypes.Uint8)
	}
	return c.arrowType()
}

// writerProperties fixes everything that shapes the bytes of a file.
func writerProperties(columns []column) *parquet.WriterProperties {
	options := []parquet.WriterProperty{
		parquet.WithVersion(parquet.V2_LATEST),
		parquet.WithDataPageVersion(parquet.DataPageV1),
		parquet.WithRootRepetition(parquet.Repetitions.Required),
		parquet.WithCompression(compress.Codecs.Snappy),
		parquet.WithDataPageSize(1 << 18),
		parquet.WithMaxRowGroupLength(maxGroupRows),
		parquet.WithDictionaryDefault(false),
	}
	for _, c := range columns {
		switch c.storage {
		case storeString, storeCategory, storeInt32, storeInt64:
			options = append(options, parquet.WithDictionaryFor(c.Name, true))
		case storeFloatVector, storeByteVector:
			options = append(options, parquet.WithStatsFor(c.Name+".list.element", false))
		}
	}
	return parquet.NewWriterProperties(options...)
}

func (e *encoder[T]) append(row T, extra Cells) error {
	if e.err != nil {
		return e.err
	}
	if err := e.checkCounts(extra); err != nil {
		return err
	}
	e.row = row
	// All values are checked before any is appended: a refused row must not
	// leave columns of different lengths.
	for i := range e.columns {
		if err := e.check(&e.columns[i], extra); err != nil {
			return fmt.Errorf("column %q: %w", e.columns[i].Name, err)
		}
	}
	for i := range e.columns {
		c := &e.columns[i]
		if c.field >= 0 {
			e.appendField(c, e.builders[i])
		} else {
			e.appendCell(c, e.builders[i], extra)
		}
	}
	e.rows++
	e.groupRows++
	if e.groupRows >= maxGroupRows || e.groupBytes >= maxGroupBytes {
		return e.flush()
	}
	return nil
}

func (e *encoder[T]) checkCounts(x Cells) error {
	for kind, n := range [...]int{Float: len(x.Floats), Category: len(x.Labels), FloatVector: len(x.Vectors), ByteVector: len(x.Bytes)} {
		if n != e.counts[kind] {
			return fmt.Errorf("%d values for %d columns of kind %v", n, e.counts[kind], Kind(kind))
		}
	}
	return nil
}

func (e *encoder[T]) check(c *column, extra Cells) error {
	if c.field < 0 {
		return checkCell(c, extra)
	}
	v := e.value.Field(c.field)
	if c.pointer {
		if v.IsNil() {
			return nil
		}
		v = v.Elem()
	}
	switch c.storage {
	case storeFloat:
		if math.IsNaN(v.Float()) && (c.pointer || !c.nullable) {
			return errors.New("NaN where a number must be")
		}
	case storeString, storeCategory:
		return checkString(v.String())
	case storeSeconds:
		if d := time.Duration(v.Int()); d <= -maxExact || d >= maxExact {
			return fmt.Errorf("%v is more than the %v that seconds hold to the nanosecond", d, maxExact)
		}
	}
	return nil
}

func checkCell(c *column, extra Cells) error {
	switch c.storage {
	case storeCategory:
		return checkString(extra.Labels[c.slot])
	case storeFloatVector:
		if v := extra.Vectors[c.slot]; len(v) != c.Length {
			return fmt.Errorf("vector of %d elements, want %d", len(v), c.Length)
		}
	case storeByteVector:
		if v := extra.Bytes[c.slot]; len(v) != c.Length {
			return fmt.Errorf("vector of %d elements, want %d", len(v), c.Length)
		}
	}
	return nil
}

// maxString bounds a string, so that a row group of them stays small.
const maxString = 1 << 26 // bytes

func checkString(s string) error {
	if len(s) > maxString {
		return fmt.Errorf("a string of %d bytes, more than %d", len(s), maxString)
	}
	if !utf8.ValidString(s) {
		return fmt.Errorf("%.100q is not UTF-8", s)
	}
	return nil
}

func (e *encoder[T]) appendField(c *column, b array.Builder) {
	v := e.value.Field(c.field)
	if c.pointer {
		if v.IsNil() {
			b.AppendNull()
			return
		}
		v = v.Elem()
	}
	switch c.storage {
	case storeString, storeCategory:
		e.appendString(b, v.String(), c.nullable && !c.pointer)
	case storeFloat:
		e.appendFloat(b, v.Float(), c.nullable && !c.pointer)
	case storeInt32:
		b.(*array.Int32Builder).Append(int32(v.Int()))
		e.groupBytes += 4
	case storeInt64:
		b.(*array.Int64Builder).Append(v.Int())
		e.groupBytes += 8
	case storeBool:
		b.(*array.BooleanBuilder).Append(v.Bool())
		e.groupBytes++
	case storeSeconds:
		b.(*array.Float64Builder).Append(Seconds(time.Duration(v.Int())))
		e.groupBytes += 8
	}
}

func (e *encoder[T]) appendCell(c *column, b array.Builder, extra Cells) {
	switch c.storage {
	case storeCategory:
		e.appendString(b, extra.Labels[c.slot], true)
	case storeFloat:
		e.appendFloat(b, extra.Floats[c.slot], true)
	case storeFloatVector:
		list := b.(*array.ListBuilder)
		list.Append(true)
		list.ValueBuilder().(*array.Float32Builder).AppendValues(extra.Vectors[c.slot], nil)
		e.groupBytes += 4 * c.Length
	case storeByteVector:
		list := b.(*array.ListBuilder)
		list.Append(true)
		list.ValueBuilder().(*array.Uint8Builder).AppendValues(extra.Bytes[c.slot], nil)
		e.groupBytes += c.Length
	}
}

func (e *encoder[T]) appendString(b array.Builder, s string, emptyIsNull bool) {
	if s == "" && emptyIsNull {
		b.AppendNull()
		return
	}
	b.(*array.StringBuilder).Append(s)
	e.groupBytes += len(s)
}

func (e *encoder[T]) appendFloat(b array.Builder, x float64, nanIsNull bool) {
	if nanIsNull && math.IsNaN(x) {
		b.AppendNull()
		return
	}
	b.(*array.Float64Builder).Append(x)
	e.groupBytes += 8
}

// flush writes the rows gathered so far as a row group.
func (e *encoder[T]) flush() error {
	if e.groupRows == 0 || e.err != nil {
		return e.err
	}
	e.groupRows, e.groupBytes = 0, 0
	e.file.NewRowGroup()
	for i, b := range e.builders {
		values := b.NewArray()
		err := e.file.WriteColumnData(values)
		values.Release()
		if err != nil {
			e.err = fmt.Errorf("column %q: %w", e.columns[i].Name, err)
			return e.err
		}
	}
	return e.sinkError()
}

// sinkError makes a failure to write final.
func (e *encoder[T]) sinkError() error {
	if e.sink.err != nil {
		e.err = fmt.Errorf("%w; is the disk full?", e.sink.err)
	}
	return e.err
}

// finish writes the last row group and the footer.
func (e *encoder[T]) finish() error {
	defer e.release()
	if err := e.flush(); err != nil {
		return err
	}
	if e.err = e.file.Close(); e.err != nil {
		return e.err
	}
	e.sink.flush()
	return e.sinkError()
}

func (e *encoder[T]) release() {
	for _, b := range e.builders {
		b.Release()
	}
	e.builders = nil
}

// quietWriter keeps the first error of the writer below it to itself. Arrow's
// Parquet writer drops some of these errors, which would end in a file that
// looks whole, and after others hands a page back to a pool of the process
// twice, which would mix up the pages of other files. So it is told that all is
// well, and whoever drives it asks here.
type quietWriter struct {
	w   *bufio.Writer
	err error
}

func (q *quietWriter) Write(p []byte) (int, error) {
	if q.err == nil {
		_, q.err = q.w.Write(p)
	}
	return len(p), nil
}

func (q *quietWriter) flush() {
	if q.err == nil {
		q.err = q.w.Flush()
	}
}
