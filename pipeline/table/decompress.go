package table

import (
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/apache/arrow/go/v17/parquet/compress"
)

// decompress fills dst with the content of src. How much the content will be is
// known before the decoder runs, since a decoder takes the memory it is asked
// for: a few hundred bytes of Zstandard can ask for gigabytes.
func decompress(dst, src []byte, codec compress.Compression) error {
	if len(dst) == 0 && len(src) == 0 {
		return nil
	}
	size, known := uint64(len(src)), true
	var err error
	switch codec {
	case compress.Codecs.Snappy:
		size, err = snappySize(src)
	case compress.Codecs.Zstd:
		size, known, err = zstdSize(src)
	}
	if err != nil {
		return err
	}
	if known && size != uint64(len(dst)) || size > maxPage {
		return fmt.Errorf("a page of %d bytes claims %d", size, len(dst))
	}
	c, err := compress.GetCodec(codec)
	if err != nil {
		return err
	}
	out := c.Decode(dst, src)
	if len(out) != len(dst) {
		return fmt.Errorf("a page of %d bytes claims %d", len(out), len(dst))
	}
	copy(dst, out) // a copy onto itself where the decoder used dst, as it does
	return nil
}

// snappySize returns the length of the content of a Snappy block, which stands
// before it.
func snappySize(b []byte) (uint64, error) {
	size, used := binary.Uvarint(b)
	if used <= 0 {
		return 0, fmt.Errorf("a Snappy block %w", errShort)
	}
	return size, nil
}

// zstdSize returns the length of the content of a single Zstandard frame
// according to its header, or, if the header leaves it open, the most that the
// blocks of the frame can hold (RFC 8878, sections 3.1.1.1 and 3.1.1.2).
func zstdSize(b []byte) (size uint64, known bool, err error) {
	const magic = 0xFD2FB528
	if len(b) < 5 || binary.LittleEndian.Uint32(b) != magic {
		return 0, false, errors.New("not a Zstandard frame")
	}
	descriptor := b[4]
	pos := 5
	single := descriptor&0x20 != 0
	if !single {
		pos++ // window descriptor
	}
	pos += []int{0, 1, 2, 4}[descriptor&3] // dictionary id
	width := []int{0, 2, 4, 8}[descriptor>>6]
	if width == 0 && single {
		width = 1
	}
	if len(b) < pos+width {
		return 0, false, fmt.Errorf("a Zstandard frame %w", errShort)
	}
	for i := range width {
		size |= uint64(b[pos+i]) << (8 * i)
	}
	if width == 2 {
		size += 256
	}
	most, err := zstdBlocks(b[pos+width:], descriptor&4 != 0)
	if width == 0 {
		return most, false, err
	}
	return size, true, err
}

// zstdBlocks sees that the blocks of a frame, and a checksum if there is one,
// take up all of b, and returns the most that they can hold.
func zstdBlocks(b []byte, checksum bool) (most uint64, err error) {
	const (
		repeated   = 1 // a kind of block: one byte, size times
		compressed = 2
		maxBlock   = 128 << 10 // bytes of content
	)
	for last := false; !last; {
		if len(b) < 3 {
			return 0, fmt.Errorf("a Zstandard frame %w", errShort)
		}
		head := uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16
		last = head&1 != 0
		size, kind := int(head>>3), head>>1&3
		if kind == compressed {
			most += maxBlock
		} else {
			most += uint64(size)
		}
		if kind == repeated {
			size = 1
		}
		if len(b)-3 < size {
			return 0, fmt.Errorf("a Zstandard frame %w", errShort)
		}
		b = b[3+size:]
	}
	want := 0
	if checksum {
		want = 4
	}
	if len(b) != want {
		return 0, fmt.Errorf("%d bytes after a Zstandard frame", len(b)-want)
	}
	return most, nil
}
