// Package pages guards Arrow's Parquet readers against damaged files.
//
// Arrow reads, decompresses and decodes pages, and trusts what they state. A
// damaged page can do more harm than a panic: levels that end too early make
// ReadBatch loop forever, and an index of 32 bits, the header of a page or of a
// delta encoding, or a compressed block make it take gigabytes. So these numbers
// are held against the bytes that are there. A wrong value is found by the digest
// of the file, where package table wrote it, or by the checksum of its page, where
// the file has one.
package pages

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"math/bits"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

const (
	maxPage       = 1 << 28 // bytes of a page after decompression
	maxPageHeader = 1 << 14 // bytes; Arrow begins with as many
	maxDelta      = 1 << 24 // values of a page in a delta encoding
)

// Reader is Arrow's page reader with a check of each page.
type Reader struct {
	file.PageReader
	bytes   chunkBytes
	descr   *schema.Column
	entries int64 // of the dictionary, or -1 before there is one
	err     error
}

// Open begins to read the column chunk of a row group in a file of the given size.
func (p *Reader) Open(r io.ReaderAt, size int64, group *file.RowGroupReader, leaf int, descr *schema.Column) error {
	chunk, err := group.MetaData().ColumnChunk(leaf)
	if err != nil {
		return err
	}
	if chunk.CryptoMetadata() != nil {
		return errors.New("is encrypted; write it without encryption")
	}
	if chunk.FilePath() != "" {
		return fmt.Errorf("lies in another file, %s; write all columns into one file", chunk.FilePath())
	}
	if chunk.Type() != descr.PhysicalType() {
		return fmt.Errorf("is %v in a row group and %v in the schema", chunk.Type(), descr.PhysicalType())
	}
	if _, err := compress.GetCodec(chunk.Compression()); err != nil {
		return fmt.Errorf("is compressed with %v, which cannot be read; write the table with Snappy or Zstandard", chunk.Compression())
	}
	start, length := chunk.DataPageOffset(), chunk.TotalCompressedSize()
	if chunk.HasDictionaryPage() && chunk.DictionaryPageOffset() > 0 {
		start = min(start, chunk.DictionaryPageOffset())
	}
	if start < 0 || length < 0 || start > size || length > size-start {
		return fmt.Errorf("claims %d bytes from byte %d of a file of %d", length, start, size)
	}
	p.bytes.reset(io.NewSectionReader(r, start, length), length)
	p.descr, p.entries, p.err = descr, -1, nil
	if p.PageReader == nil {
		p.PageReader, err = file.NewPageReader(&p.bytes, chunk.NumValues(), chunk.Compression(), memory.DefaultAllocator, nil)
		return err
	}
	p.Reset(&p.bytes, chunk.NumValues(), chunk.Compression(), nil)
	return nil
}

// Err implements file.PageReader.
func (p *Reader) Err() error { return p.err }

// Next implements file.PageReader.
func (p *Reader) Next() bool {
	if p.err != nil {
		return false
	}
	if !p.PageReader.Next() {
		p.err = p.PageReader.Err()
		return false
	}
	if h := &p.bytes.header; h.hasSum && h.sum != p.bytes.sum {
		p.err = errors.New("the checksum of a page does not fit its bytes")
	} else {
		p.err = p.check(p.Page())
	}
	return p.err == nil
}

func (p *Reader) check(page file.Page) error {
	data, n := page.Data(), int64(page.NumValues())
	switch page := page.(type) {
	case *file.DictionaryPage:
		if n*4 > int64(len(data)) { // the shortest values take four bytes
			return fmt.Errorf("a dictionary of %d values in %d bytes", n, len(data))
		}
		p.entries = n
		return nil
	case *file.DataPageV1:
		for _, highest := range [...]int16{p.descr.MaxRepetitionLevel(), p.descr.MaxDefinitionLevel()} {
			if highest == 0 {
				continue
			}
			if page.DefinitionLevelEncoding() != parquet.Encodings.RLE || page.RepetitionLevelEncoding() != parquet.Encodings.RLE {
				return errors.New("has levels in an encoding that went out of use in 2013; write the table with a newer program")
			}
			if len(data) < 4 || uint64(binary.LittleEndian.Uint32(data)) > uint64(len(data)-4) {
				return errShort
			}
			size := binary.LittleEndian.Uint32(data)
			if err := checkLevels(data[4:4+size], highest, n); err != nil {
				return err
			}
			data = data[4+size:]
		}
	case *file.DataPageV2:
		for _, levels := range [...]struct {
			size    int32
			highest int16
		}{{page.RepetitionLevelByteLen(), p.descr.MaxRepetitionLevel()}, {page.DefinitionLevelByteLen(), p.descr.MaxDefinitionLevel()}} {
			if levels.size < 0 || int(levels.size) > len(data) {
				return errShort
			}
			if err := checkLevels(data[:levels.size], levels.highest, n); err != nil {
				return err
			}
			data = data[levels.size:]
		}
	}
	return p.checkValues(parquet.Encoding(page.Encoding()), data, n)
}

// checkValues sees that the values of a page, n at most, need no memory beyond
// what their bytes justify.
func (p *Reader) checkValues(e parquet.Encoding, b []byte, n int64) error {
	switch e {
	case parquet.Encodings.Plain, parquet.Encodings.RLE:
		return nil
	case parquet.Encodings.RLEDict, parquet.Encodings.PlainDict:
		if len(b) == 0 {
			return nil
		}
		if int(b[0]) > bits.Len64(uint64(max(p.entries, 0))) {
			return fmt.Errorf("indices of %d bits into a dictionary of %d values", b[0], p.entries)
		}
		_, err := hybridRuns(b[1:], int(b[0]), n, p.entries)
		return err
	case parquet.Encodings.DeltaBinaryPacked, parquet.Encodings.DeltaLengthByteArray:
		return checkDelta(b, n)
	}
	return fmt.Errorf("has values in the encoding %v, which cannot be read; write the table with plain or dictionary encoding", e)
}

// checkLevels sees that b holds n levels.
func checkLevels(b []byte, highest int16, n int64) error {
	if highest == 0 {
		return nil
	}
	if held, err := hybridRuns(b, bits.Len16(uint16(highest)), n, int64(highest)+1); err != nil || held < n {
		return fmt.Errorf("%d levels in a page of %d values", held, n)
	}
	return nil
}

// hybridRuns returns how many of n numbers of the given width in bits, each
// below limit, stand in b. In the hybrid encoding of Parquet, a run begins with a
// count; its lowest bit tells 8·count numbers packed one after another from one
// number repeated count times (https://parquet.apache.org/docs/file-format/data-pages/encodings/).
// Of packed numbers only the bytes are counted.
func hybridRuns(b []byte, width int, n, limit int64) (held int64, err error) {
	for held < n {
		head, used := binary.Uvarint(b)
		count := int64(head >> 1)
		if used <= 0 || count == 0 || count > math.MaxInt32/8 {
			break
		}
		b = b[used:]
		size := (int64(width) + 7) / 8
		if head&1 == 1 {
			size = count * int64(width)
			count *= 8
		}
		if int64(len(b)) < size {
			break
		}
		if head&1 == 0 {
			var value [8]byte
			copy(value[:], b[:size])
			if v := binary.LittleEndian.Uint64(value[:]); v >= uint64(limit) {
				return held, fmt.Errorf("number %d where all are below %d", v, limit)
			}
		}
		b = b[size:]
		held += count
	}
	return held, nil
}

// checkDelta checks the head of values in the encoding DELTA_BINARY_PACKED: the
// values of a block, the miniblocks of a block, and the number of values.
func checkDelta(b []byte, n int64) error {
	var head [3]uint64
	for i := range head {
		v, used := binary.Uvarint(b)
		if used <= 0 {
			return errShort
		}
		head[i], b = v, b[used:]
	}
	block, miniblocks, count := head[0], head[1], head[2]
	if miniblocks == 0 || block > 1<<20 || block%miniblocks != 0 || block/miniblocks%32 != 0 || block == 0 ||
		count > uint64(n) || count > maxDelta || count == 0 && n > 0 && len(b) > 0 {
		return fmt.Errorf("delta encoding of %d values in blocks of %d and %d miniblocks", count, block, miniblocks)
	}
	return nil
}

var errShort = errors.New("ends too early")

// chunkBytes are the bytes of a column chunk as Arrow's page reader takes them:
// it peeks at a header, reserves the memory that the header states, and reads.
type chunkBytes struct {
	*bufio.Reader
	left   int64 // bytes
	header pageHeader
	sum    uint32 // CRC-32 of what was read of the page
}

func (c *chunkBytes) reset(r io.Reader, length int64) {
	if c.Reader == nil {
		c.Reader = bufio.NewReaderSize(nil, maxPageHeader)
	}
	c.Reader.Reset(r)
	c.left = length
}

// Peek returns the first n bytes of a page, whose header it checks.
func (c *chunkBytes) Peek(n int) ([]byte, error) {
	b, err := c.Reader.Peek(maxPageHeader)
	if len(b) == 0 {
		return nil, err
	}
	if c.header, err = readPageHeader(b); err != nil {
		return nil, fmt.Errorf("a page header cannot be read: %w", err)
	}
	h := &c.header
	if left := c.left - h.length; h.compressed < 0 || h.compressed > left || h.uncompressed < 0 || h.uncompressed > maxPage {
		return nil, fmt.Errorf("a page claims %d bytes, %d when decompressed, where %d are left", h.compressed, h.uncompressed, left)
	}
	c.sum = 0
	return b[:min(n, len(b))], nil
}

// Discard skips n bytes.
func (c *chunkBytes) Discard(n int) (int, error) {
	n, err := c.Reader.Discard(n)
	c.left -= int64(n)
	return n, err
}

// Read implements io.Reader.
func (c *chunkBytes) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.left -= int64(n)
	if c.header.hasSum {
		c.sum = crc32.Update(c.sum, crc32.IEEETable, b[:n])
	}
	return n, err
}

// Protect returns a panic of f as an error: the decoders of Arrow trust lengths
// that a damaged file gets wrong.
func Protect(f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the file is damaged: %v", r)
		}
	}()
	return f()
}
