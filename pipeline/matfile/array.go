package matfile

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"unicode/utf16"
)

// Class is the class of an array.
type Class uint8

// The classes of arrays that are read.
const (
	Cell   Class = 1
	Char   Class = 4
	Double Class = 6
	Single Class = 7
	Int8   Class = 8
	Uint8  Class = 9
	Int16  Class = 10
	Uint16 Class = 11
	Int32  Class = 12
	Uint32 Class = 13
	Int64  Class = 14
	Uint64 Class = 15
)

// opaque is the class of objects whose content the format's description leaves
// out.
const opaque Class = 17

// String names a class in messages.
func (c Class) String() string {
	switch c {
	case Cell:
		return "a cell array"
	case Char:
		return "a character array"
	case Double:
		return "double"
	case 2:
		return "a structure"
	case 5:
		return "a sparse array"
	case 16:
		return "a function"
	case 3, opaque:
		return "an object"
	}
	return fmt.Sprintf("class %d", uint8(c))
}

// Array is a variable, or the content of a cell.
type Array struct {
	Name    string // empty in a cell
	Class   Class
	Logical bool
	Rows    int
	Columns int // the product of all dimensions behind the first

	Numbers []float64 // of numeric classes, in column order; integers above 2^53 are rounded
	Text    string    // of class Char, in column order
	Cells   []Array   // of class Cell, in column order
}

// Number returns the value of an array of one number.
func (a *Array) Number() (x float64, ok bool) {
	if len(a.Numbers) != 1 {
		return 0, false
	}
	return a.Numbers[0], true
}

// dataType is the type of a data element.
type dataType uint32

const (
	miInt8       dataType = 1
	miUint8      dataType = 2
	miInt16      dataType = 3
	miUint16     dataType = 4
	miInt32      dataType = 5
	miUint32     dataType = 6
	miSingle     dataType = 7
	miDouble     dataType = 9
	miInt64      dataType = 12
	miUint64     dataType = 13
	miMatrix     dataType = 14
	miCompressed dataType = 15
	miUTF8       dataType = 16
	miUTF16      dataType = 17
	miUTF32      dataType = 18
)

// number says how a number is stored.
type number struct {
	bytes  int
	decode func(order binary.ByteOrder, b []byte) float64
}

var numbers = map[dataType]number{
	miInt8:   {1, func(_ binary.ByteOrder, b []byte) float64 { return float64(int8(b[0])) }},
	miUint8:  {1, func(_ binary.ByteOrder, b []byte) float64 { return float64(b[0]) }},
	miInt16:  {2, func(o binary.ByteOrder, b []byte) float64 { return float64(int16(o.Uint16(b))) }},
	miUint16: {2, func(o binary.ByteOrder, b []byte) float64 { return float64(o.Uint16(b)) }},
	miInt32:  {4, func(o binary.ByteOrder, b []byte) float64 { return float64(int32(o.Uint32(b))) }},
	miUint32: {4, func(o binary.ByteOrder, b []byte) float64 { return float64(o.Uint32(b)) }},
	miSingle: {4, func(o binary.ByteOrder, b []byte) float64 { return float64(math.Float32frombits(o.Uint32(b))) }},
	miDouble: {8, func(o binary.ByteOrder, b []byte) float64 { return math.Float64frombits(o.Uint64(b)) }},
	miInt64:  {8, func(o binary.ByteOrder, b []byte) float64 { return float64(int64(o.Uint64(b))) }},
	miUint64: {8, func(o binary.ByteOrder, b []byte) float64 { return float64(o.Uint64(b)) }},
}

const tagBytes = 8

// Bounds of a variable, which an annotation of two hours does not reach.
const (
	maxArrays = 1 << 18 // in it, those in cells included
	maxDepth  = 16      // of cells within cells
)

// decoder takes elements from the bytes of a variable.
type decoder struct {
	order binary.ByteOrder
	rest  []byte
	room  int // for further arrays
}

// next takes the next element.
func (d *decoder) next() (kind dataType, data []byte, err error) {
	if len(d.rest) < tagBytes {
		return 0, nil, fmt.Errorf("%w: an element is missing: fetch the file again", ErrDamaged)
	}
	first, size := d.order.Uint32(d.rest), uint64(d.order.Uint32(d.rest[4:]))
	if small := first >> 16; small != 0 {
		if small > 4 {
			return 0, nil, fmt.Errorf("%w: a small element claims %d bytes and can hold 4: fetch the file again", ErrDamaged, small)
		}
		data, d.rest = d.rest[4:4+small], d.rest[tagBytes:]
		return dataType(first & 0xFFFF), data, nil
	}
	d.rest = d.rest[tagBytes:]
	if size > uint64(len(d.rest)) {
		return 0, nil, fmt.Errorf("%w: an element claims %d bytes and has %d: fetch the file again", ErrDamaged, size, len(d.rest))
	}
	data = d.rest[:size]
	d.rest = d.rest[min(size+-size&7, uint64(len(d.rest))):]
	return dataType(first), data, nil
}

// array reads the elements of an array that lies in cells of the given depth.
func (d *decoder) array(a *Array, depth int) error {
	if d.room--; d.room < 0 || depth > maxDepth {
		return fmt.Errorf("%w: more than %d arrays, or cells more than %d deep: is this the right file?", ErrDamaged, maxArrays, maxDepth)
	}
	if len(d.rest) == 0 { // an empty array may be written so
		a.Class = Double
		return nil
	}
	flags, err := d.head(a)
	if err != nil {
		return err
	}
	elements := int64(a.Rows) * int64(a.Columns)
	numeric := a.Class >= Double && a.Class <= Uint64
	switch {
	case flags&flagComplex != 0:
		return fmt.Errorf("%w: complex numbers: save their real parts", ErrClass)
	case a.Class == Cell:
		return d.cells(a, elements, depth)
	case a.Class != Char && !numeric:
		return fmt.Errorf("%w: %s: save numbers, characters, or a cell array of these", ErrClass, a.Class)
	}
	kind, data, err := d.next()
	if err != nil {
		return err
	}
	if a.Class == Char {
		a.Text, err = d.text(kind, data)
		return err
	}
	n, ok := numbers[kind]
	if !ok || int64(len(data)) != elements*int64(n.bytes) {
		return fmt.Errorf("%w: %d bytes of type %d for %d numbers: fetch the file again", ErrDamaged, len(data), kind, elements)
	}
	a.Numbers = make([]float64, elements)
	for i := range a.Numbers {
		a.Numbers[i] = n.decode(d.order, data[i*n.bytes:])
	}
	return nil
}

const (
	flagComplex = 0x0800
	flagLogical = 0x0200
)

// head reads class, dimensions and name, and returns the flags. The number of
// elements is a claim.
func (d *decoder) head(a *Array) (flags uint32, err error) {
	_, first, err := d.next()
	if err != nil {
		return 0, err
	}
	if len(first) < 8 {
		return 0, fmt.Errorf("%w: an array without a class: fetch the file again", ErrDamaged)
	}
	flags = d.order.Uint32(first)
	a.Class, a.Logical = Class(flags), flags&flagLogical != 0
	if a.Class == opaque { // what follows is not documented
		return flags, nil
	}
	_, dims, err := d.next()
	if err != nil {
		return 0, err
	}
	_, name, err := d.next()
	if err != nil {
		return 0, err
	}
	if len(dims) < 8 {
		return 0, fmt.Errorf("%w: an array of fewer than two dimensions: fetch the file again", ErrDamaged)
	}
	columns := int64(1)
	for i := 0; i+4 <= len(dims); i += 4 {
		n := int64(int32(d.order.Uint32(dims[i:])))
		switch {
		case n < 0:
			return 0, fmt.Errorf("%w: dimension %d: fetch the file again", ErrDamaged, n)
		case i == 0:
			a.Rows = int(n)
		default:
			columns = min(columns*n, math.MaxInt32)
		}
	}
	a.Name, a.Columns = string(name), int(columns)
	return flags, nil
}

// cells reads the content of cells.
func (d *decoder) cells(a *Array, elements int64, depth int) error {
	if elements > int64(len(d.rest)/tagBytes) {
		return fmt.Errorf("%w: %d cells claimed in %d bytes: fetch the file again", ErrDamaged, elements, len(d.rest))
	}
	if elements > int64(d.room) {
		return fmt.Errorf("%w: more than %d arrays: is this the right file?", ErrDamaged, maxArrays)
	}
	a.Cells = make([]Array, elements)
	for i := range a.Cells {
		kind, data, err := d.next()
		if err != nil {
			return fmt.Errorf("cell %d: %w", i+1, err)
		}
		if kind != miMatrix {
			return fmt.Errorf("%w: cell %d holds type %d and no array: fetch the file again", ErrDamaged, i+1, kind)
		}
		inner := decoder{order: d.order, rest: data, room: d.room}
		if err := inner.array(&a.Cells[i], depth+1); err != nil {
			return fmt.Errorf("cell %d: %w", i+1, err)
		}
		d.room = inner.room
	}
	return nil
}

// text decodes characters. Those of one byte are the first 256 of Unicode.
func (d *decoder) text(kind dataType, data []byte) (string, error) {
	var codes []rune
	switch kind {
	case miUTF8:
		return strings.ToValidUTF8(string(data), "\uFFFD"), nil
	case miUint16, miUTF16:
		units := make([]uint16, len(data)/2)
		for i := range units {
			units[i] = d.order.Uint16(data[2*i:])
		}
		codes = utf16.Decode(units)
	case miInt8, miUint8:
		for _, b := range data {
			codes = append(codes, rune(b))
		}
	case miUTF32:
		for ; len(data) >= 4; data = data[4:] {
			codes = append(codes, rune(d.order.Uint32(data)))
		}
	default:
		return "", fmt.Errorf("%w: characters of type %d: save the file anew", ErrDamaged, kind)
	}
	return string(codes), nil
}
