package pages

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/thrift/lib/go/thrift"
)

// Parquet writes its footer and its page headers in the compact protocol of
// Apache Thrift. The generated code in Arrow believes what they state: a list of
// a hundred million elements gets memory for them, and groups nested without end
// exhaust the stack, from which nothing can recover. So they are walked over
// once before, to see that bytes cover every claim.

const (
	maxFooter = 64 << 20 // bytes
	maxSchema = 1 << 16  // elements of the schema
)

// TailLength is the number of bytes behind the footer of a file: the length of
// the footer and the mark of the format.
const TailLength = 8

// ReadFooter returns the footer of the Parquet file r, and the size of the file.
func ReadFooter(r parquet.ReaderAtSeeker) (footer []byte, size int64, err error) {
	size, err = r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, 0, err
	}
	var tail [TailLength]byte
	if size < TailLength {
		return nil, 0, fmt.Errorf("%d bytes are too few for a Parquet file", size)
	}
	if _, err := r.ReadAt(tail[:], size-TailLength); err != nil {
		return nil, 0, err
	}
	if magic := string(tail[4:]); magic != "PAR1" {
		return nil, 0, fmt.Errorf("the last bytes are %q, not those of a Parquet file", magic)
	}
	length := int64(binary.LittleEndian.Uint32(tail[:4]))
	if length > maxFooter || length > size-TailLength {
		return nil, 0, fmt.Errorf("the footer claims %d bytes of %d", length, size)
	}
	footer = make([]byte, length)
	_, err = r.ReadAt(footer, size-TailLength-length)
	return footer, size, err
}

// CheckFooter walks over the footer of a file.
func CheckFooter(footer []byte) error {
	w := newThriftWalker(footer)
	err := w.fields(func(id int16, t thrift.TType) error {
		if id == 2 && t == thrift.LIST {
			return w.schema()
		}
		return w.skip(t)
	})
	if err != nil {
		return fmt.Errorf("the footer cannot be read: %w", err)
	}
	return nil
}

// thriftWalker walks over bytes of the compact protocol.
type thriftWalker struct {
	thrift.TProtocol
	rest *thrift.TMemoryBuffer
}

// newThriftWalker returns a walker that refuses a list or string with more
// elements than b has bytes.
func newThriftWalker(b []byte) thriftWalker {
	rest := &thrift.TMemoryBuffer{Buffer: bytes.NewBuffer(b)}
	limits := &thrift.TConfiguration{MaxMessageSize: int32(max(len(b), 1))}
	return thriftWalker{thrift.NewTCompactProtocolConf(rest, limits), rest}
}

var ctx = context.Background() // which Thrift asks for and does not look at

func (w thriftWalker) skip(t thrift.TType) error { return thrift.SkipDefaultDepth(ctx, w, t) }

// fields calls visit for each field of a struct; visit must read the value.
func (w thriftWalker) fields(visit func(id int16, t thrift.TType) error) error {
	if _, err := w.ReadStructBegin(ctx); err != nil {
		return err
	}
	for {
		_, t, id, err := w.ReadFieldBegin(ctx)
		if err != nil {
			return err
		}
		if t == thrift.STOP {
			return w.ReadStructEnd(ctx)
		}
		if err := visit(id, t); err != nil {
			return err
		}
	}
}

// schema walks over the elements of the schema, each of which states in field 5
// how many of those after it are its children.
func (w thriftWalker) schema() error {
	element, n, err := w.ReadListBegin(ctx)
	if err != nil {
		return err
	}
	if n > maxSchema || element != thrift.STRUCT {
		return fmt.Errorf("a schema of %d elements of type %v", n, element)
	}
	for range n {
		err := w.fields(func(id int16, t thrift.TType) error {
			if id != 5 || t != thrift.I32 {
				return w.skip(t)
			}
			children, err := w.ReadI32(ctx)
			if err == nil && (children < 0 || int(children) > n) {
				err = fmt.Errorf("a group of %d columns in a schema of %d", children, n)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// pageHeader holds what is checked of the struct PageHeader of the format.
type pageHeader struct {
	length                   int64 // of the header in bytes
	uncompressed, compressed int64 // bytes of the page
	sum                      uint32
	hasSum                   bool
}

// readPageHeader reads the header at the start of b.
func readPageHeader(b []byte) (h pageHeader, err error) {
	w := newThriftWalker(b)
	err = w.fields(func(id int16, t thrift.TType) error {
		if id < 2 || id > 4 || t != thrift.I32 {
			return w.skip(t)
		}
		v, err := w.ReadI32(ctx)
		switch id {
		case 2:
			h.uncompressed = int64(v)
		case 3:
			h.compressed = int64(v)
		case 4:
			h.sum, h.hasSum = uint32(v), true
		}
		return err
	})
	h.length = int64(len(b)) - int64(w.rest.Len())
	return h, err
}
