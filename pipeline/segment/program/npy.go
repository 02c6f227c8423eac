package program

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
)

// The start of a NumPy file of format 1.0 (NumPy Enhancement Proposal 1, "A Simple
// File Format for NumPy Arrays", and the documentation of numpy.lib.format).
const (
	npyMagic = "\x93NUMPY\x01\x00"
	npyAlign = 64 // of the first value in the file
)

// npyHeader returns what stands before the values of a one-dimensional array of n
// little-endian doubles: the magic number, the length of the description in two
// bytes, and the description as a Python literal, filled up with spaces to a line
// that ends at a multiple of 64 bytes.
func npyHeader(n int) []byte {
	text := fmt.Sprintf("{'descr': '<f8', 'fortran_order': False, 'shape': (%d,), }", n)
	unpadded := len(npyMagic) + 2 + len(text) + 1
	text += strings.Repeat(" ", (npyAlign-unpadded%npyAlign)%npyAlign) + "\n"
	header := binary.LittleEndian.AppendUint16([]byte(npyMagic), uint16(len(text)))
	return append(header, text...)
}

// npyWriter writes signals as NumPy files. It owns a buffer.
type npyWriter struct{ buffer []byte }

// valuesAtOnce is the number of values that are written at once.
const valuesAtOnce = 8192

func (w *npyWriter) write(to io.Writer, x []float64) error {
	w.buffer = append(w.buffer[:0], npyHeader(len(x))...)
	for {
		n := min(len(x), valuesAtOnce)
		for _, v := range x[:n] {
			w.buffer = binary.LittleEndian.AppendUint64(w.buffer, math.Float64bits(v))
		}
		x = x[n:]
		if _, err := to.Write(w.buffer); err != nil || len(x) == 0 {
			return err
		}
		w.buffer = w.buffer[:0]
	}
}

// writeFile writes x to a new file in place of one of that name. A program that has
// mapped the old one into its memory keeps it.
func (w *npyWriter) writeFile(path string, x []float64) error {
	os.Remove(path)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	err = w.write(f, x)
	if closing := f.Close(); err == nil {
		err = closing
	}
	return err
}
