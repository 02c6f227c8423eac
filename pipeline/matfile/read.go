package matfile

import (
	"bytes"
	"compress/flate"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Bounds of what is read. An annotation of two hours takes a tenth of them.
const (
	maxVariable = 16 << 20 // bytes of a variable, without compression
	maxSkipped  = 1000     // variables before the one that is wanted
)

const (
	headerBytes = 128

	// A variable is known by its first bytes: flags, dimensions and name. Names
	// have 63 bytes at most.
	headOfVariable = 1024
)

// ReadVariable reads the named variable of a file. The errors wrap one of this
// package's and say what to do, or come from r.
func ReadVariable(r io.Reader, name string) (*Array, error) {
	order, err := readHeader(r)
	if err != nil {
		return nil, err
	}
	var others []string
	for len(others) < maxSkipped {
		var tag [tagBytes]byte
		_, err := io.ReadFull(r, tag[:])
		switch {
		case err == io.EOF:
			return nil, noVariable(name, others)
		case errors.Is(err, io.ErrUnexpectedEOF):
			return nil, fmt.Errorf("%w: it ends inside the tag of an element: fetch the file again", ErrDamaged)
		case err != nil:
			return nil, err
		}
		kind, size := order.Uint32(tag[:]), int64(order.Uint32(tag[4:]))
		if kind>>16 != 0 { // a small element, which is no variable
			continue
		}
		body := &io.LimitedReader{R: r, N: size}
		array, other, err := readElement(body, order, dataType(kind), size, name)
		if array != nil || err != nil {
			return array, err
		}
		if other != "" {
			others = append(others, strconv.Quote(other))
		}
		rest := body.N
		if dataType(kind) != miCompressed {
			rest += -size & 7
		}
		if _, err := io.CopyN(io.Discard, r, rest); err != nil && err != io.EOF {
			return nil, err
		}
	}
	return nil, fmt.Errorf("%w: %q is not among the first %d variables: save it in a file of its own", ErrVariable, name, maxSkipped)
}

func noVariable(name string, others []string) error {
	if len(others) == 0 {
		return fmt.Errorf("%w: %q: the file has no variable at all: fetch it again", ErrVariable, name)
	}
	const most = 5
	more := ""
	if len(others) > most {
		others, more = others[:most], fmt.Sprintf(" and %d more", len(others)-most)
	}
	return fmt.Errorf("%w: %q: the file has %s%s", ErrVariable, name, strings.Join(others, ", "), more)
}

// readHeader reads the header of a file and returns its byte order.
func readHeader(r io.Reader) (binary.ByteOrder, error) {
	var h [headerBytes]byte
	n, err := io.ReadFull(r, h[:])
	if err != nil && err != io.EOF && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	const saveAs = "save it as version 7, in MATLAB with save(file, variable, '-v7')"
	switch text := string(h[:n]); {
	case strings.HasPrefix(text, "MATLAB 7.3") || strings.HasPrefix(text, "\x89HDF\r\n\x1a\n"):
		return nil, fmt.Errorf("%w: 7.3 (HDF5): %s", ErrVersion, saveAs)
	case n < headerBytes:
		return nil, fmt.Errorf("%w: %d bytes, fewer than the header has: fetch the file again", ErrFormat, n)
	case strings.HasSuffix(text, "IM"):
		return binary.LittleEndian, nil
	case strings.HasSuffix(text, "MI"):
		return binary.BigEndian, nil
	case bytes.IndexByte(h[:4], 0) >= 0:
		return nil, fmt.Errorf("%w: it may be one of level 4: %s", ErrFormat, saveAs)
	}
	return nil, fmt.Errorf("%w: bytes 127 and 128 are neither IM nor MI: fetch the file again, or %s", ErrFormat, saveAs)
}

// readElement reads one element of size bytes. It returns the array if that is
// the wanted variable, and else the name of the variable, empty for other
// elements.
func readElement(r io.Reader, order binary.ByteOrder, kind dataType, size int64, name string) (array *Array, other string, err error) {
	var z io.Reader
	if kind == miCompressed {
		if z, err = zlib.NewReader(r); err != nil {
			return nil, "", damagedBy(err)
		}
		var tag [tagBytes]byte
		if _, err := io.ReadFull(z, tag[:]); err != nil {
			return nil, "", damagedBy(err)
		}
		kind, size = dataType(order.Uint32(tag[:])), int64(order.Uint32(tag[4:]))
		r = io.LimitReader(z, size)
	}
	if kind != miMatrix {
		return nil, "", nil
	}
	head, err := readAll(r, min(size, headOfVariable))
	if err != nil {
		return nil, "", err
	}
	var a Array
	if _, err := (&decoder{order: order, rest: head}).head(&a); err != nil {
		return nil, "", err
	}
	if a.Name != name {
		return nil, a.Name, nil
	}
	if size > maxVariable {
		return nil, "", fmt.Errorf("%w: variable %q claims %d bytes, more than %d MiB: is this the right file?", ErrDamaged, name, size, maxVariable>>20)
	}
	tail, err := readAll(r, size-int64(len(head)))
	if err != nil {
		return nil, "", err
	}
	if z != nil { // its end holds a checksum
		if _, err := io.CopyN(io.Discard, z, 1); err != nil && err != io.EOF {
			return nil, "", damagedBy(err)
		}
	}
	a = Array{}
	d := decoder{order: order, rest: append(head, tail...), room: maxArrays}
	if err := d.array(&a, 0); err != nil {
		return nil, "", fmt.Errorf("variable %q: %w", name, err)
	}
	return &a, "", nil
}

// readAll reads size bytes, taking memory only for those that are there.
func readAll(r io.Reader, size int64) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, size))
	if err == nil && int64(len(b)) < size {
		err = io.ErrUnexpectedEOF
	}
	return b, damagedBy(err)
}

// damagedBy explains an error in reading an element. One of the reader itself is
// returned as it is.
func damagedBy(err error) error {
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: it ends inside a variable: fetch the file again", ErrDamaged)
	case errors.As(err, new(flate.CorruptInputError)), errors.Is(err, zlib.ErrChecksum), errors.Is(err, zlib.ErrHeader), errors.Is(err, zlib.ErrDictionary):
		return fmt.Errorf("%w: %w: fetch the file again", ErrDamaged, err)
	}
	return err
}
