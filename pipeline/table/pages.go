package table

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"math/bits"
	"slices"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

const (
	maxPage       = 1 << 28 // bytes of a page after decompression
	maxPageHeader = 1 << 20 // bytes
)

// pageReader hands the pages of a column chunk to Arrow's column reader, in
// place of Arrow's own page reader, after it has seen that each holds what its
// header says: as many levels and values as promised, and no index beyond the
// dictionary. The column reader takes that for granted, and on a damaged page
// would panic, wait for values without end or take memory without bound.
type pageReader struct {
	r        io.ReaderAt
	pos, end int64 // of the rest of the chunk in r
	descr    *schema.Column
	codec    compress.Compression
	values   int64 // that the chunk has yet to give, with the missing ones

	header     []byte
	compressed []byte
	data       []byte
	dictionary int // number of entries, or -1 before there is one

	page file.Page
	err  error
}

// newPageReader begins to read a column chunk of a file of the given size.
func newPageReader(r io.ReaderAt, size int64, group *file.RowGroupReader, leaf int, descr *schema.Column) (*pageReader, error) {
	chunk, err := group.MetaData().ColumnChunk(leaf)
	if err != nil {
		return nil, err
	}
	if chunk.CryptoMetadata() != nil {
		return nil, errors.New("is encrypted; write it without encryption")
	}
	if chunk.FilePath() != "" {
		return nil, fmt.Errorf("lies in another file, %s; write the table into files of its own", chunk.FilePath())
	}
	if chunk.Type() != descr.PhysicalType() {
		return nil, fmt.Errorf("is %v in a row group and %v in the schema", chunk.Type(), descr.PhysicalType())
	}
	switch chunk.Compression() {
	case compress.Codecs.Uncompressed, compress.Codecs.Snappy, compress.Codecs.Zstd:
	default:
		return nil, fmt.Errorf("is compressed by %v; write the table with Snappy or Zstandard", chunk.Compression())
	}
	start, length := chunk.DataPageOffset(), chunk.TotalCompressedSize()
	if chunk.HasDictionaryPage() && chunk.DictionaryPageOffset() > 0 {
		start = min(start, chunk.DictionaryPageOffset())
	}
	if start < 0 || length < 0 || start > size || length > size-start {
		return nil, fmt.Errorf("claims %d bytes from byte %d of a file of %d", length, start, size)
	}
	return &pageReader{
		r: r, pos: start, end: start + length,
		descr: descr, codec: chunk.Compression(), values: chunk.NumValues(), dictionary: -1,
	}, nil
}

// Page implements file.PageReader.
func (p *pageReader) Page() file.Page { return p.page }

// Err implements file.PageReader.
func (p *pageReader) Err() error { return p.err }

// SetMaxPageHeaderSize implements file.PageReader; the limit here is fixed.
func (p *pageReader) SetMaxPageHeaderSize(int) {}

// Reset implements file.PageReader. Each chunk gets a reader of its own.
func (p *pageReader) Reset(parquet.BufferedReader, int64, compress.Compression, *file.CryptoContext) {
	panic("table: a page reader is not used twice")
}

// Next implements file.PageReader.
func (p *pageReader) Next() bool {
	p.page = nil
	for p.err == nil && p.page == nil && p.values > 0 {
		p.err = p.next()
	}
	return p.err == nil && p.page != nil
}

// next reads a page. An index page is passed over.
func (p *pageReader) next() error {
	h, err := p.readHeader()
	if err != nil {
		return err
	}
	if h.compressed < 0 || h.compressed > p.end-p.pos || h.uncompressed < 0 || h.uncompressed > maxPage {
		return fmt.Errorf("a page claims %d bytes, %d when decompressed, where %d are left", h.compressed, h.uncompressed, p.end-p.pos)
	}
	if h.values < 0 || h.values > math.MaxInt32 {
		return fmt.Errorf("a page claims %d values", h.values)
	}
	p.compressed = resize(p.compressed, int(h.compressed))
	if _, err := p.r.ReadAt(p.compressed, p.pos); err != nil {
		return err
	}
	p.pos += h.compressed
	if h.hasCRC && uint32(h.crc) != crc32.ChecksumIEEE(p.compressed) {
		return errors.New("the checksum of a page does not fit its bytes")
	}
	switch h.kind {
	case pageDictionary:
		return p.dictionaryPage(h)
	case pageData:
		return p.dataPage(h)
	case pageDataV2:
		return p.dataPageV2(h)
	}
	return nil
}

// readHeader reads the header at pos and moves pos behind it.
func (p *pageReader) readHeader() (pageHeader, error) {
	for size := int64(1 << 10); ; size *= 4 {
		size = min(size, p.end-p.pos)
		p.header = resize(p.header, int(size))
		if _, err := p.r.ReadAt(p.header, p.pos); err != nil && err != io.EOF {
			return pageHeader{}, err
		}
		c := compactReader{b: p.header}
		h, err := c.pageHeader()
		if errors.Is(err, errShort) && size < p.end-p.pos && size < maxPageHeader {
			continue
		}
		if err != nil {
			return h, fmt.Errorf("a page header %w", err)
		}
		p.pos += int64(c.pos)
		return h, nil
	}
}

// buffer returns room for the bytes of a page. Strings point into it as long as
// they are in use, and so get a fresh one.
func (p *pageReader) buffer(size int, fresh bool) []byte {
	if fresh || p.descr.PhysicalType() == parquet.Types.ByteArray {
		return make([]byte, size)
	}
	p.data = resize(p.data, size)
	return p.data
}

func (p *pageReader) dictionaryPage(h pageHeader) error {
	if p.dictionary >= 0 {
		return errors.New("a second dictionary")
	}
	if e := parquet.Encoding(h.encoding); e != parquet.Encodings.Plain && e != parquet.Encodings.PlainDict {
		return fmt.Errorf("a dictionary in the encoding %v", e)
	}
	data := p.buffer(int(h.uncompressed), true)
	if err := decompress(data, p.compressed, p.codec); err != nil {
		return err
	}
	if err := checkPlain(p.descr.PhysicalType(), data, h.values); err != nil {
		return fmt.Errorf("dictionary: %w", err)
	}
	p.dictionary = int(h.values)
	p.page = file.NewDictionaryPage(memory.NewBufferBytes(data), int32(h.values), parquet.Encodings.Plain)
	return nil
}

func (p *pageReader) dataPage(h pageHeader) error {
	data := p.buffer(int(h.uncompressed), false)
	if err := decompress(data, p.compressed, p.codec); err != nil {
		return err
	}
	rest, err := p.cutLevels(data, p.descr.MaxRepetitionLevel(), h.repLevs)
	if err != nil {
		return err
	}
	rep := data[:len(data)-len(rest)]
	values, err := p.cutLevels(rest, p.descr.MaxDefinitionLevel(), h.defLevels)
	if err != nil {
		return err
	}
	def := rest[:len(rest)-len(values)]
	levels := data[:len(data)-len(values)]
	if values, err = p.check(&h, rep[min(4, len(rep)):], def[min(4, len(def)):], values); err != nil {
		return err
	}
	data = joined(levels, values)
	p.page = file.NewDataPageV1(memory.NewBufferBytes(data), int32(h.values), parquet.Encoding(h.encoding),
		parquet.Encodings.RLE, parquet.Encodings.RLE, int32(len(data)))
	return nil
}

// joined returns head followed by tail, which most often follows it already.
func joined(head, tail []byte) []byte {
	whole := head[:min(len(head)+len(tail), cap(head))]
	if len(whole) == len(head)+len(tail) && (len(tail) == 0 || &whole[len(head)] == &tail[0]) {
		return whole
	}
	return slices.Concat(head, tail)
}

// cutLevels returns what follows the levels at the start of data, which their
// length precedes.
func (p *pageReader) cutLevels(data []byte, highest int16, encoding int64) ([]byte, error) {
	if highest == 0 {
		return data, nil
	}
	if e := parquet.Encoding(encoding); e != parquet.Encodings.RLE {
		return nil, fmt.Errorf("levels in the encoding %v, which went out of use in 2013", e)
	}
	if len(data) < 4 {
		return nil, errShort
	}
	n := binary.LittleEndian.Uint32(data)
	if uint64(n) > uint64(len(data)-4) {
		return nil, fmt.Errorf("levels of %d bytes in a page of %d", n, len(data))
	}
	return data[4+n:], nil
}

func (p *pageReader) dataPageV2(h pageHeader) error {
	levels := h.repLevs + h.defLevels
	if h.repLevs < 0 || h.defLevels < 0 || levels > h.compressed || levels > h.uncompressed {
		return fmt.Errorf("levels of %d and %d bytes in a page of %d", h.repLevs, h.defLevels, h.compressed)
	}
	codec := p.codec
	if h.plain {
		codec = compress.Codecs.Uncompressed
	}
	data := p.buffer(int(h.uncompressed), false)
	copy(data, p.compressed[:levels])
	values := data[levels:]
	if err := decompress(values, p.compressed[levels:], codec); err != nil {
		return err
	}
	values, err := p.check(&h, data[:h.repLevs], data[h.repLevs:levels], values)
	if err != nil {
		return err
	}
	data = joined(data[:levels], values)
	p.page = file.NewDataPageV2(memory.NewBufferBytes(data), int32(h.values), int32(h.nulls), int32(h.rows),
		parquet.Encoding(h.encoding), int32(h.defLevels), int32(h.repLevs), int32(len(data)), false)
	return nil
}

// check sees that a data page holds the levels and values that its header
// promises, and counts them off the chunk. It returns the values, turned into
// the plain encoding if they were in one of differences.
func (p *pageReader) check(h *pageHeader, rep, def, values []byte) ([]byte, error) {
	if h.values > p.values {
		return nil, fmt.Errorf("a page of %d values where the column has %d left", h.values, p.values)
	}
	p.values -= h.values
	if _, err := checkLevels(rep, p.descr.MaxRepetitionLevel(), h.values); err != nil {
		return nil, fmt.Errorf("repetition levels: %w", err)
	}
	present, err := checkLevels(def, p.descr.MaxDefinitionLevel(), h.values)
	if err != nil {
		return nil, fmt.Errorf("definition levels: %w", err)
	}
	switch e := parquet.Encoding(h.encoding); e {
	case parquet.Encodings.Plain:
		err = checkPlain(p.descr.PhysicalType(), values, present)
	case parquet.Encodings.RLEDict, parquet.Encodings.PlainDict:
		err = p.checkIndices(values, present)
	default:
		values, err = toPlain(e, p.descr.PhysicalType(), values, present)
		h.encoding = int64(parquet.Encodings.Plain)
	}
	if err != nil {
		return nil, fmt.Errorf("values: %w", err)
	}
	return values, nil
}

// checkLevels counts the levels that equal the highest, which are those of
// values present.
func checkLevels(b []byte, highest int16, n int64) (present int64, err error) {
	if highest == 0 {
		return n, nil
	}
	err = hybridRuns(b, bits.Len16(uint16(highest)), n, func(level uint32, run int64) error {
		if level > uint32(highest) {
			return fmt.Errorf("level %d above %d", level, highest)
		}
		if level == uint32(highest) {
			present += run
		}
		return nil
	})
	return present, err
}

func (p *pageReader) checkIndices(b []byte, n int64) error {
	if n == 0 {
		return nil
	}
	if p.dictionary < 0 {
		return errors.New("indices without a dictionary before them")
	}
	if len(b) == 0 {
		return errShort
	}
	return hybridRuns(b[1:], int(b[0]), n, func(index uint32, _ int64) error {
		if index >= uint32(p.dictionary) {
			return fmt.Errorf("index %d into a dictionary of %d", index, p.dictionary)
		}
		return nil
	})
}

// checkPlain sees that b holds n values one after another.
func checkPlain(t parquet.Type, b []byte, n int64) error {
	var width int64
	switch t {
	case parquet.Types.Boolean:
		if int64(len(b)) < (n+7)/8 {
			return errShort
		}
		return nil
	case parquet.Types.Int32, parquet.Types.Float:
		width = 4
	case parquet.Types.Int64, parquet.Types.Double:
		width = 8
	case parquet.Types.ByteArray:
		for ; n > 0; n-- {
			if len(b) < 4 {
				return errShort
			}
			size := uint64(binary.LittleEndian.Uint32(b))
			if size > uint64(len(b)-4) {
				return fmt.Errorf("a string of %d bytes in %d", size, len(b)-4)
			}
			b = b[4+size:]
		}
		return nil
	default:
		return fmt.Errorf("of the type %v, which is not read here", t)
	}
	if n > int64(len(b))/width {
		return errShort
	}
	return nil
}
