package table

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// hybridRuns goes through the first n numbers of the given width in bits in
// the run-length and bit-packing hybrid encoding of Parquet and calls visit for
// each run of one number. A run begins with a count; its lowest bit tells 8·count
// numbers packed one after another, lowest bits first, from one number repeated
// count times.
func hybridRuns(b []byte, width int, n int64, visit func(value uint32, run int64) error) error {
	if width > 32 {
		return fmt.Errorf("numbers of %d bits", width)
	}
	for n > 0 {
		head, used := binary.Uvarint(b)
		if used <= 0 {
			return errShort
		}
		b = b[used:]
		const most = 1<<31/8 - 1
		count := head >> 1
		if count == 0 || count > most {
			return fmt.Errorf("a run of %d", count)
		}
		var err error
		if head&1 == 0 {
			run := min(n, int64(count))
			b, err = repeatedRun(b, width, run, visit)
			n -= run
		} else {
			run := min(n, int64(count)*8)
			b, err = packedRun(b, width, int(count), run, visit)
			n -= run
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func repeatedRun(b []byte, width int, run int64, visit func(uint32, int64) error) ([]byte, error) {
	size := (width + 7) / 8
	if len(b) < size {
		return nil, errShort
	}
	var value uint32
	for i := range size {
		value |= uint32(b[i]) << (8 * i)
	}
	return b[size:], visit(value, run)
}

// packedRun visits the first n numbers of count groups of eight.
func packedRun(b []byte, width, count int, n int64, visit func(uint32, int64) error) ([]byte, error) {
	if width == 0 {
		return nil, errors.New("packed numbers of no width")
	}
	size := count * width // bytes: 8 numbers of width bits
	if len(b) < size {
		return nil, errShort
	}
	var bits uint64
	var have, next int
	for range n {
		for have < width {
			bits |= uint64(b[next]) << have
			have += 8
			next++
		}
		if err := visit(uint32(bits&(1<<width-1)), 1); err != nil {
			return nil, err
		}
		bits >>= width
		have -= width
	}
	return b[size:], nil
}
