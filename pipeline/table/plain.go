package table

import (
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/apache/arrow/go/v17/parquet"
)

// byteStreamSplit has no name in Arrow 17 for Go.
const byteStreamSplit parquet.Encoding = 9

// toPlain turns n values of a page in one of the encodings that some writers use
// into the plain one, so that the decoder below needs to know no more than that.
//
// In DELTA_BINARY_PACKED, integers are a first value and then differences in
// blocks, each as an excess over the least difference of its block, packed by
// miniblocks of one width. In DELTA_LENGTH_BYTE_ARRAY, the lengths of all strings
// come first, encoded that way, and then their bytes. In BYTE_STREAM_SPLIT, the first
// bytes of all numbers come first, then all second bytes and so on (Parquet
// format specification, Encodings: DELTA_BINARY_PACKED = 5,
// DELTA_LENGTH_BYTE_ARRAY = 6, BYTE_STREAM_SPLIT = 9).
func toPlain(e parquet.Encoding, t parquet.Type, b []byte, n int64) ([]byte, error) {
	if n > maxPage/8 {
		return nil, fmt.Errorf("%d values in a page", n)
	}
	var plain []byte
	switch {
	case e == parquet.Encodings.DeltaBinaryPacked && t == parquet.Types.Int32:
		_, err := deltaIntegers(b, n, func(v int64) error {
			plain = binary.LittleEndian.AppendUint32(plain, uint32(v))
			return nil
		})
		return plain, err
	case e == parquet.Encodings.DeltaBinaryPacked && t == parquet.Types.Int64:
		_, err := deltaIntegers(b, n, func(v int64) error {
			plain = binary.LittleEndian.AppendUint64(plain, uint64(v))
			return nil
		})
		return plain, err
	case e == parquet.Encodings.DeltaLengthByteArray && t == parquet.Types.ByteArray:
		return plainStrings(b, n)
	case e == byteStreamSplit && (t == parquet.Types.Float || t == parquet.Types.Int32):
		return plainFromStreams(b, 4, n)
	case e == byteStreamSplit && (t == parquet.Types.Double || t == parquet.Types.Int64):
		return plainFromStreams(b, 8, n)
	}
	return nil, fmt.Errorf("in the encoding %v, which is not read here; write the table with plain or dictionary encoding", e)
}

func plainStrings(b []byte, n int64) ([]byte, error) {
	lengths := make([]int32, 0, min(n, int64(len(b))))
	total := int64(0)
	rest, err := deltaIntegers(b, n, func(v int64) error {
		if total += v; v < 0 || total > int64(len(b)) {
			return fmt.Errorf("a string of %d bytes in %d", v, len(b))
		}
		lengths = append(lengths, int32(v))
		return nil
	})
	if err != nil {
		return nil, err
	}
	if total > int64(len(rest)) {
		return nil, errShort
	}
	plain := make([]byte, 0, total+4*n)
	for _, size := range lengths {
		plain = binary.LittleEndian.AppendUint32(plain, uint32(size))
		plain = append(plain, rest[:size]...)
		rest = rest[size:]
	}
	return plain, nil
}

func plainFromStreams(b []byte, width int, n int64) ([]byte, error) {
	if int64(len(b)) < n*int64(width) {
		return nil, errShort
	}
	plain := make([]byte, n*int64(width))
	for k := range width {
		stream := b[int64(k)*n : int64(k+1)*n]
		for i, x := range stream {
			plain[i*width+k] = x
		}
	}
	return plain, nil
}

// deltaIntegers calls visit with each of the n integers at the start of b and
// returns what follows them.
func deltaIntegers(b []byte, n int64, visit func(int64) error) (rest []byte, err error) {
	c := compactReader{b: b} // the head is of the same varints
	block, err1 := c.uvarint()
	miniblocks, err2 := c.uvarint()
	count, err3 := c.uvarint()
	value, err4 := c.integer()
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return nil, err
	}
	if block == 0 || block%128 != 0 || block > 1<<20 || miniblocks == 0 || block%miniblocks != 0 || block/miniblocks%32 != 0 {
		return nil, fmt.Errorf("delta blocks of %d in %d", block, miniblocks)
	}
	if count != uint64(n) {
		return nil, fmt.Errorf("%d values where %d were promised", count, n)
	}
	if n == 0 {
		return b[c.pos:], nil
	}
	if err := visit(value); err != nil {
		return nil, err
	}
	for n--; n > 0; {
		least, err := c.integer()
		if err != nil {
			return nil, err
		}
		if uint64(c.left()) < miniblocks {
			return nil, errShort
		}
		widths := c.b[c.pos : c.pos+int(miniblocks)]
		c.pos += int(miniblocks)
		for _, width := range widths {
			if n == 0 {
				break // the miniblocks that nothing is left for are not there
			}
			size := int(block/miniblocks) * int(width) / 8
			if width > 64 || size > c.left() {
				return nil, errShort
			}
			take := min(n, int64(block/miniblocks))
			n -= take
			err := unpack(c.b[c.pos:c.pos+size], int(width), take, func(excess uint64) error {
				value += least + int64(excess) // wraps around, as it did when written
				return visit(value)
			})
			if err != nil {
				return nil, err
			}
			c.pos += size
		}
	}
	return b[c.pos:], nil
}

// unpack calls visit with the first n numbers of the given width in bits that
// are packed in b, lowest bits first.
func unpack(b []byte, width int, n int64, visit func(uint64) error) error {
	bit := 0
	for range n {
		var v uint64
		for got := 0; got < width; {
			take := min(8-bit%8, width-got)
			v |= uint64(b[bit/8]>>(bit%8)&(1<<take-1)) << got
			got += take
			bit += take
		}
		if err := visit(v); err != nil {
			return err
		}
	}
	return nil
}
