package table

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"slices"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/metadata"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// magic is how a file of Parquet begins and ends.
const magic = "PAR1"

// parquetFile writes a file of Parquet to sink. Columns of floats and strings it
// encodes itself, the others the column writers of Arrow do.
type parquetFile struct {
	sink   io.Writer
	offset int64

	rows, groups int
	described    []byte // the row groups, for the footer
}

func (f *parquetFile) start(sink io.Writer) {
	*f = parquetFile{sink: sink, described: f.described[:0]}
	f.put([]byte(magic))
}

// put writes bytes to the sink, which keeps its errors to itself.
func (f *parquetFile) put(b []byte) { _, _ = f.Write(b) }

// Write implements io.Writer.
func (f *parquetFile) Write(b []byte) (int, error) {
	n, err := f.sink.Write(b)
	f.offset += int64(n)
	return n, err
}

// Tell returns the number of bytes written, as the writers of Arrow want to know.
func (f *parquetFile) Tell() int64 { return f.offset }

// frame is what the footers of all files of a format have in common.
type frame struct {
	head []byte // version and schema
	tail []byte // key/value metadata, and the program that wrote the file
}

// frameOf returns the frame for files of a schema, which it takes from a file
// without rows that Arrow writes.
func frameOf(root *schema.GroupNode, props *parquet.WriterProperties, words metadata.KeyValueMetadata) (frame, error) {
	var empty bytes.Buffer
	w := file.NewParquetWriter(&empty, root, file.WithWriterProps(props), file.WithWriteMetadata(words))
	if err := w.Close(); err != nil {
		return frame{}, err
	}
	const end = len(magic) + 4 // the length of the footer
	footer := empty.Bytes()[len(magic) : empty.Len()-end]
	const rows, keyValues = 3, 5 // numbers of fields; the row groups are between
	var first, second int
	r := compactReader{b: footer}
	err := r.fields(func(id int64, typ byte) error {
		switch id { // the head of the field is one byte
		case rows:
			first = r.pos - 1
		case keyValues:
			second = r.pos - 1
		}
		return r.skip(typ, maxCompactDepth)
	})
	if err != nil || first == 0 || second == 0 {
		return frame{}, fmt.Errorf("footer of an empty file: fields at %d and %d: %w", first, second, err)
	}
	return frame{footer[:first], footer[second:]}, nil
}

// finish writes the footer.
func (f *parquetFile) finish(of *frame) {
	w := compactWriter{bytes.Clone(of.head)}
	w.i64(1, int64(f.rows))
	w.list(1, f.groups, compactStruct)
	w.b = append(w.b, f.described...)
	w.b = append(w.b, of.tail...)
	size := len(w.b)
	w.b = binary.LittleEndian.AppendUint32(w.b, uint32(size))
	f.put(append(w.b, magic...))
}

// group describes a row group while its columns are written.
type group struct {
	columns    compactWriter // descriptions of those written
	start      int64         // offset of the first page
	written    int64         // bytes of pages
	compressed int64
}

// begin begins a row group, in the memory of the one before.
func (g *group) begin() { *g = group{columns: compactWriter{g.columns.b[:0]}} }

// end adds the description of a row group of n rows and so many columns.
func (f *parquetFile) end(g *group, n, columns int) {
	w := compactWriter{f.described}
	w.list(1, columns, compactStruct)
	w.b = append(w.b, g.columns.b...)
	w.i64(1, g.written)
	w.i64(1, int64(n))
	w.i64(2, g.start)
	w.i64(1, g.compressed)
	w.i16(1, int64(f.groups))
	w.end()
	f.described = w.b
	f.rows += n
	f.groups++
}

// beginDataPage begins the header of a page of data, up to its statistics.
func (w *compactWriter) beginDataPage(size, packed, rows int, encoding int64) {
	w.i32(1, pageOfData)
	w.i32(1, int64(size))
	w.i32(1, int64(packed))
	w.field(2, compactStruct)
	w.i32(1, int64(rows))
	w.i32(1, encoding)
	w.i32(1, encodingHybrid) // of definition levels
	w.i32(1, encodingHybrid) // of repetition levels
}

// columnPages are the pages of a column: where the first of them begins, the first
// with data, and where they end; their size before compression; and their rows.
type columnPages struct {
	start, data, end int64
	uncompressed     int64
	rows             int
}

// beginColumn counts the pages of a column and begins its description, up to where
// the data begin.
func (g *group) beginColumn(name string, typ int64, p *columnPages, encodings ...int64) *compactWriter {
	if g.start == 0 {
		g.start = p.start
	}
	compressed := p.end - p.start
	g.written += compressed
	g.compressed += compressed
	w := &g.columns
	w.i64(2, p.end) // where Parquet once had this description again
	w.field(1, compactStruct)
	w.i32(1, typ)
	w.list(1, len(encodings), compactI32)
	for _, e := range encodings {
		w.integer(e)
	}
	w.list(1, 1, compactBinary)
	w.text(name)
	w.i32(1, codecSnappy)
	w.i64(1, int64(p.rows))
	w.i64(1, p.uncompressed)
	w.i64(1, compressed)
	w.i64(2, p.data)
	return w
}

// pages writes how many pages of a type have an encoding.
func (w *compactWriter) pages(typ, encoding, n int64) {
	w.i32(1, typ)
	w.i32(1, encoding)
	w.i32(1, n)
	w.end()
}

// writeOther writes a column by the column writer of Arrow.
func (f *parquetFile) writeOther(g *group, d *schema.Column, props *parquet.WriterProperties, fill func(file.ColumnChunkWriter) error) error {
	meta := metadata.NewColumnChunkMetaDataBuilder(props, d)
	pages, err := file.NewPageWriter(f, props.CompressionFor(d.Path()), props.CompressionLevelFor(d.Path()), meta, 0, 0, memory.DefaultAllocator, false, nil, nil)
	if err != nil {
		return err
	}
	w := file.NewColumnChunkWriter(meta, pages, props)
	if err := fill(w); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	about := meta.Contents().MetaData
	start := about.DataPageOffset
	if about.IsSetDictionaryPageOffset() {
		start = about.GetDictionaryPageOffset()
	}
	if g.start == 0 {
		g.start = start
	}
	g.written += w.TotalBytesWritten()
	g.compressed += about.TotalCompressedSize
	g.describe(meta, start)
	return nil
}

// describe adds the description of a column whose pages begin at start.
func (g *group) describe(column *metadata.ColumnChunkMetaDataBuilder, start int64) {
	w, about := &g.columns, column.Contents().MetaData
	w.i64(2, start+about.TotalCompressedSize) // where Parquet once had this description again
	w.field(1, compactStruct)
	w.i32(1, int64(about.Type))
	w.list(1, len(about.Encodings), compactI32)
	for _, e := range about.Encodings {
		w.integer(int64(e))
	}
	w.list(1, len(about.PathInSchema), compactBinary)
	for _, name := range about.PathInSchema {
		w.text(name)
	}
	w.i32(1, int64(about.Codec))
	w.i64(1, about.NumValues)
	w.i64(1, about.TotalUncompressedSize)
	w.i64(1, about.TotalCompressedSize)
	w.i64(2, about.DataPageOffset)
	next := 12 - 9
	if about.IsSetDictionaryPageOffset() {
		w.i64(2, start)
		next = 12 - 11
	}
	if s := about.Statistics; s != nil {
		w.field(next, compactStruct)
		w.statistics(s.Max, s.Min, s.NullCount, s.DistinctCount, s.MaxValue, s.MinValue)
		next = 0
	}
	type pages struct{ typ, encoding, n int64 }
	var all []pages
	for _, s := range about.EncodingStats {
		all = append(all, pages{int64(s.PageType), int64(s.Encoding), int64(s.Count)})
	}
	// Arrow leaves their order to chance: here that in the file.
	slices.SortFunc(all, func(a, b pages) int {
		return cmp.Or(cmp.Compare(b.typ, a.typ), cmp.Compare(b.encoding, a.encoding))
	})
	w.list(next+1, len(all), compactStruct)
	for _, p := range all {
		w.pages(p.typ, p.encoding, p.n)
	}
	w.end()
	w.end()
}
