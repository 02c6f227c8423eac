package table

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/parquet/file"
)

// A row group ends when it holds either limit; both depend on the rows alone,
// so that the same rows always give the same row groups.
const (
	maxGroupRows  = 1 << 16
	maxGroupBytes = 8 << 20
)

// encoder turns rows into the bytes of a Parquet file.
type encoder[T Row] struct {
	*Format[T]
	*buffers // of the rows that no row group holds yet
	file     *file.Writer

	err   error         // first failure; final
	row   T             // the row being appended
	value reflect.Value // row, addressable
	rows  int64

	sum   string // digest of the finished file, which has zeros in its place
	sumAt int64  // the place
}

func (e *encoder[T]) start(f *Format[T], w io.Writer) {
	e.Format = f
	e.value = reflect.ValueOf(&e.row).Elem()
	e.buffers = f.take()
	e.digest.reset(w)
	e.out.Reset(e.digest)
	e.file = file.NewParquetWriter(quietWriter{e.out}, f.root, file.WithWriterProps(f.props), file.WithWriteMetadata(f.keys))
}

func (e *encoder[T]) append(row T, extra DynamicValues) error {
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
		c := &e.columns[i]
		var err error
		if c.field >= 0 {
			err = checkField(c, e.value)
		} else {
			err = checkCell(c, &extra)
		}
		if err != nil {
			return fmt.Errorf("column %q: %w", c.Name, err)
		}
	}
	for i := range e.columns {
		if c := &e.columns[i]; c.field >= 0 {
			e.bytes += e.chunks[i].appendField(c, e.value)
		} else if c.storage != storeFloat {
			e.bytes += e.chunks[i].appendCell(c, &extra)
		}
	}
	e.bytes += e.appendFloats(extra.Floats)
	e.rows++
	e.gathered++
	if e.gathered >= maxGroupRows || e.bytes >= maxGroupBytes {
		return e.flush()
	}
	return nil
}

func (e *encoder[T]) checkCounts(x DynamicValues) error {
	for kind, n := range [...]int{Float: len(x.Floats), Category: len(x.Labels), FloatVector: len(x.Vectors), ByteVector: len(x.Bytes)} {
		if n != e.counts[kind] {
			return fmt.Errorf("%d values for %d columns of kind %v", n, e.counts[kind], Kind(kind))
		}
	}
	return nil
}

func checkField(c *column, row reflect.Value) error {
	v, missing := c.valueIn(row)
	if missing {
		return nil
	}
	switch c.storage {
	case storeFloat:
		if math.IsNaN(v.Float()) {
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

func checkCell(c *column, extra *DynamicValues) error {
	n := c.Length
	switch c.storage {
	case storeCategory:
		return checkString(extra.Labels[c.slot])
	case storeNumber:
		if s := extra.Labels[c.slot]; s != "" {
			_, err := parseNumber(s)
			return err
		}
	case storeFloatVector:
		n = len(extra.Vectors[c.slot])
	case storeByteVector:
		n = len(extra.Bytes[c.slot])
	}
	if n != c.Length {
		return fmt.Errorf("vector of %d elements, want %d", n, c.Length)
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

// flush writes the rows gathered so far as a row group.
func (e *encoder[T]) flush() error {
	if e.err != nil || e.gathered == 0 {
		return e.err
	}
	if e.err = e.writeGroup(e.file.AppendRowGroup(), e.columns); e.err != nil {
		return e.err
	}
	_, err := e.out.Write(nil)
	return e.written(err)
}

// written makes a failure to write final.
func (e *encoder[T]) written(err error) error {
	if err != nil {
		e.err = fmt.Errorf("%w; is the disk full?", err)
	}
	return e.err
}

// finish writes the last row group and the footer, with zeros for its digest.
func (e *encoder[T]) finish() error {
	defer e.release()
	if err := e.flush(); err != nil {
		return err
	}
	if err := e.written(e.out.Flush()); err != nil {
		return err
	}
	e.digest.inFooter = true
	if e.err = e.file.AppendKeyValueMetadata(keyDigest, noDigest); e.err != nil {
		return e.err
	}
	if e.err = e.file.Close(); e.err != nil {
		return e.err
	}
	if err := e.written(e.out.Flush()); err != nil {
		return err
	}
	e.sum, e.sumAt = e.digest.sum()
	return nil
}

// release hands the buffers on to the next file of the format.
func (e *encoder[T]) release() {
	e.giveBack(e.buffers)
	e.buffers = nil
}

// quietWriter says nothing of the first error of a writer, which keeps it. Arrow's
// Parquet writer drops some of these errors, which would end in a file that
// looks whole, and after others hands a page back to a pool of the process
// twice, which would mix up the pages of other files. So it is told that all is
// well, and whoever drives it asks here.
type quietWriter struct{ w *bufio.Writer }

func (q quietWriter) Write(p []byte) (int, error) {
	_, _ = q.w.Write(p)
	return len(p), nil
}
