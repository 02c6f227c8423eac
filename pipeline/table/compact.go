package table

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Parquet writes its footer and its page headers in the compact protocol of
// Apache Thrift. The generated code that reads them believes what they say: a
// list that claims a hundred million elements gets memory for them, and groups
// nested without end exhaust the stack, which nothing can recover from. So the
// footer is walked once before, to see that every claim is covered by bytes; and
// the page headers, of which a few numbers are wanted, are read here alone.

// Types of the compact protocol.
const (
	compactTrue   = 1
	compactFalse  = 2
	compactByte   = 3
	compactI16    = 4
	compactI32    = 5
	compactI64    = 6
	compactDouble = 7
	compactBinary = 8
	compactList   = 9
	compactSet    = 10
	compactMap    = 11
	compactStruct = 12
)

var (
	errShort = errors.New("ends too early")
	errDeep  = errors.New("is nested too deeply")
)

// compactReader walks over bytes of the compact protocol.
type compactReader struct {
	b   []byte
	pos int
}

func (r *compactReader) left() int { return len(r.b) - r.pos }

func (r *compactReader) byte() (byte, error) {
	if r.left() < 1 {
		return 0, errShort
	}
	r.pos++
	return r.b[r.pos-1], nil
}

func (r *compactReader) uvarint() (uint64, error) {
	v, n := binary.Uvarint(r.b[r.pos:])
	if n == 0 {
		return 0, errShort
	}
	if n < 0 {
		return 0, errors.New("holds a number of more than 64 bits")
	}
	r.pos += n
	return v, nil
}

// integer reads a number in zigzag order.
func (r *compactReader) integer() (int64, error) {
	v, err := r.uvarint()
	return int64(v>>1) ^ -int64(v&1), err
}

// fields calls visit for each field of a struct; visit must consume the value.
// The values of booleans are part of their type.
func (r *compactReader) fields(visit func(id int64, typ byte) error) error {
	var id int64
	for {
		head, err := r.byte()
		if err != nil {
			return err
		}
		if head == 0 {
			return nil
		}
		if delta := head >> 4; delta != 0 {
			id += int64(delta)
		} else if id, err = r.integer(); err != nil {
			return err
		}
		if err := visit(id, head&15); err != nil {
			return err
		}
	}
}

// list reads the head of a list or set, whose elements take a byte or more each.
func (r *compactReader) list() (size int, element byte, err error) {
	head, err := r.byte()
	if err != nil {
		return 0, 0, err
	}
	n := uint64(head >> 4)
	if n == 15 {
		if n, err = r.uvarint(); err != nil {
			return 0, 0, err
		}
	}
	if n > uint64(r.left()) {
		return 0, 0, fmt.Errorf("claims a list of %d elements in %d bytes", n, r.left())
	}
	return int(n), head & 15, nil
}

// skip passes over a value of the given type that is a field of a struct.
func (r *compactReader) skip(typ byte, depth int) error {
	if typ == compactTrue || typ == compactFalse {
		return nil
	}
	return r.skipElement(typ, depth)
}

// skipElement passes over a value that is an element of a list or a map.
func (r *compactReader) skipElement(typ byte, depth int) error {
	if depth == 0 {
		return errDeep
	}
	switch typ {
	case compactTrue, compactFalse, compactByte:
		return r.advance(1)
	case compactI16, compactI32, compactI64:
		_, err := r.uvarint()
		return err
	case compactDouble:
		return r.advance(8)
	case compactBinary:
		n, err := r.uvarint()
		if err != nil {
			return err
		}
		return r.advance(n)
	case compactList, compactSet:
		n, element, err := r.list()
		for i := 0; i < n && err == nil; i++ {
			err = r.skipElement(element, depth-1)
		}
		return err
	case compactMap:
		return r.skipMap(depth)
	case compactStruct:
		return r.fields(func(_ int64, typ byte) error { return r.skip(typ, depth-1) })
	}
	return fmt.Errorf("holds a value of unknown type %d", typ)
}

func (r *compactReader) skipMap(depth int) error {
	n, err := r.uvarint()
	if err != nil || n == 0 {
		return err
	}
	if n > uint64(r.left()) {
		return fmt.Errorf("claims a map of %d entries in %d bytes", n, r.left())
	}
	types, err := r.byte()
	for i := uint64(0); i < n && err == nil; i++ {
		if err = r.skipElement(types>>4, depth-1); err == nil {
			err = r.skipElement(types&15, depth-1)
		}
	}
	return err
}

func (r *compactReader) advance(n uint64) error {
	if n > uint64(r.left()) {
		return errShort
	}
	r.pos += int(n)
	return nil
}

const (
	maxFooter       = 64 << 20 // bytes
	maxSchema       = 1 << 16  // elements of the schema
	maxCompactDepth = 32
)

// checkFooter walks over the footer of the Parquet file r
// of size bytes.
func checkFooter(r io.ReaderAt, size int64) error {
	var tail [8]byte
	if size < int64(len(tail)) {
		return fmt.Errorf("%d bytes are too few for a Parquet file", size)
	}
	if _, err := r.ReadAt(tail[:], size-int64(len(tail))); err != nil {
		return err
	}
	if magic := string(tail[4:]); magic != "PAR1" {
		return fmt.Errorf("the last bytes are %q, not those of a Parquet file", magic)
	}
	length := int64(binary.LittleEndian.Uint32(tail[:4]))
	if length > maxFooter || length > size-int64(len(tail)) {
		return fmt.Errorf("the footer claims %d bytes of %d", length, size)
	}
	footer := make([]byte, length)
	if _, err := r.ReadAt(footer, size-int64(len(tail))-length); err != nil {
		return err
	}
	c := compactReader{b: footer}
	if err := c.fileMetaData(); err != nil {
		return fmt.Errorf("the footer %w", err)
	}
	return nil
}

// fileMetaData walks over the struct FileMetaData of the format, whose field 2
// lists the elements of the schema.
func (r *compactReader) fileMetaData() error {
	return r.fields(func(id int64, typ byte) error {
		if id == 2 && typ == compactList {
			return r.schema()
		}
		return r.skip(typ, maxCompactDepth)
	})
}

// schema walks over the elements of the schema, each of which says in field 5
// how many of those after it are its children.
func (r *compactReader) schema() error {
	n, element, err := r.list()
	if err != nil {
		return err
	}
	if n > maxSchema || element != compactStruct {
		return fmt.Errorf("claims a schema of %d elements of type %d", n, element)
	}
	for range n {
		err := r.fields(func(id int64, typ byte) error {
			if id != 5 || typ != compactI32 {
				return r.skip(typ, maxCompactDepth)
			}
			children, err := r.integer()
			if err == nil && (children < 0 || children > int64(n)) {
				err = fmt.Errorf("claims a group of %d columns in a schema of %d", children, n)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// pageHeader holds what is wanted of the struct PageHeader of the format and of
// the header of one kind of page within it.
type pageHeader struct {
	kind                     int64 // 0 data, 1 index, 2 dictionary, 3 data of version 2
	uncompressed, compressed int64 // bytes
	crc                      int64
	hasCRC                   bool

	values             int64
	encoding           int64
	defLevels, repLevs int64 // encodings of the levels, or their bytes in version 2
	nulls, rows        int64 // version 2 only
	plain              bool  // version 2 only: not compressed
}

// Kinds of page.
const (
	pageData       = 0
	pageDictionary = 2
	pageDataV2     = 3
)

func (r *compactReader) pageHeader() (pageHeader, error) {
	var h pageHeader
	err := r.fields(func(id int64, typ byte) (err error) {
		switch {
		case id == 1 && typ == compactI32:
			h.kind, err = r.integer()
		case id == 2 && typ == compactI32:
			h.uncompressed, err = r.integer()
		case id == 3 && typ == compactI32:
			h.compressed, err = r.integer()
		case id == 4 && typ == compactI32:
			h.crc, err = r.integer()
			h.hasCRC = true
		case id == 5 && typ == compactStruct: // DataPageHeader
			err = r.numbers(map[int64]*int64{1: &h.values, 2: &h.encoding, 3: &h.defLevels, 4: &h.repLevs}, nil)
		case id == 7 && typ == compactStruct: // DictionaryPageHeader
			err = r.numbers(map[int64]*int64{1: &h.values, 2: &h.encoding}, nil)
		case id == 8 && typ == compactStruct: // DataPageHeaderV2
			err = r.numbers(map[int64]*int64{1: &h.values, 2: &h.nulls, 3: &h.rows, 4: &h.encoding, 5: &h.defLevels, 6: &h.repLevs},
				func(id int64, yes bool) { h.plain = h.plain || id == 7 && !yes })
		default:
			err = r.skip(typ, maxCompactDepth)
		}
		return err
	})
	return h, err
}

// numbers reads the integers of a struct whose ids are keys of into, tells
// boolean of its booleans and passes over the rest.
func (r *compactReader) numbers(into map[int64]*int64, boolean func(id int64, yes bool)) error {
	return r.fields(func(id int64, typ byte) (err error) {
		if p := into[id]; p != nil && typ == compactI32 {
			*p, err = r.integer()
			return err
		}
		if boolean != nil && (typ == compactTrue || typ == compactFalse) {
			boolean(id, typ == compactTrue)
		}
		return r.skip(typ, maxCompactDepth)
	})
}
