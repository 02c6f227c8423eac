// Package npy writes arrays as NumPy files of format 1.0 (NumPy Enhancement
// Proposal 1, "A Simple File Format for NumPy Arrays", and the documentation of
// numpy.lib.format): a description of the array, then its values in little-endian
// order, row after row. Programs map such a file into memory instead of reading it.
package npy

import (
	"encoding/binary"
	"fmt"
	"io"
	"strings"
)

// Value is the type of the values of an array.
type Value interface{ float64 | float32 | uint8 }

const (
	magic = "\x93NUMPY\x01\x00"
	align = 64 // of the first value in the file
)

// Header returns what stands before the values of an array: the magic number, the
// length of the description in two bytes, and the description as a Python literal,
// filled up with spaces to a line that ends at a multiple of 64 bytes.
func Header[V Value](shape ...int) []byte {
	var sizes strings.Builder
	for i, n := range shape {
		if i > 0 {
			sizes.WriteByte(' ')
		}
		fmt.Fprintf(&sizes, "%d,", n)
	}
	dims := sizes.String()
	if len(shape) > 1 { // Python writes the last comma of a tuple of one alone
		dims = strings.TrimSuffix(dims, ",")
	}
	text := fmt.Sprintf("{'descr': '%s', 'fortran_order': False, 'shape': (%s), }", descr[V](), dims)
	unpadded := len(magic) + 2 + len(text) + 1
	text += strings.Repeat(" ", (align-unpadded%align)%align) + "\n"
	header := binary.LittleEndian.AppendUint16([]byte(magic), uint16(len(text)))
	return append(header, text...)
}

// descr returns NumPy's name of a type.
func descr[V Value]() string {
	switch any(V(0)).(type) {
	case float64:
		return "<f8"
	case float32:
		return "<f4"
	}
	return "|u1"
}

// Writer writes the values of arrays. It owns a buffer.
type Writer struct{ buffer []byte }

// valuesAtOnce is the number of values that are written at once.
const valuesAtOnce = 8192

// Write writes the next values of an array.
func Write[V Value](to io.Writer, w *Writer, values []V) error {
	for len(values) > 0 {
		n := min(len(values), valuesAtOnce)
		buffer, err := binary.Append(w.buffer[:0], binary.LittleEndian, values[:n])
		if err != nil {
			return err
		}
		w.buffer, values = buffer, values[n:]
		if _, err := to.Write(buffer); err != nil {
			return err
		}
	}
	return nil
}
