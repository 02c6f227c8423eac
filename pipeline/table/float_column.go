package table

import (
	"encoding/binary"
	"math"

	"github.com/apache/arrow/go/v17/parquet/compress"
)

// Numbers by which Parquet names types, encodings and compressions.
const (
	typeDouble         = 5
	typeBytes          = 6
	encodingPlain      = 0
	encodingHybrid     = 3
	encodingDictionary = 8
	codecSnappy        = 1
	pageOfData         = 0
	pageOfDictionary   = 2
)

const (
	rowsBetweenEnds = 1024    // a page ends behind a multiple of so many rows
	pageSize        = 1 << 18 // bytes of values from which on it does
)

// floatColumn encodes columns of floats. It holds the buffers for one page.
type floatColumn struct {
	page, packed []byte
	head         compactWriter
}

// extent are bounds and counts of the values of a page or a column.
type extent struct {
	rows, values int
	least, most  float64 // without values, far beyond each other
}

var nothing = extent{least: math.MaxFloat64, most: -math.MaxFloat64}

func extentOf(rows int, values []float64) extent {
	e := nothing
	e.rows, e.values = rows, len(values)
	for _, x := range values {
		if x < e.least {
			e.least = x
		}
		if x > e.most {
			e.most = x
		}
	}
	return e
}

func (e *extent) plus(other extent) {
	e.rows, e.values = e.rows+other.rows, e.values+other.values
	e.least, e.most = min(e.least, other.least), max(e.most, other.most)
}

// describe writes the statistics of Parquet. They call a bound of zero −0 below
// and +0 above. Arrow counts no distinct values but says so in places, as 0.
func (e *extent) describe(w *compactWriter, step int, distinct bool) {
	var bounds [2][8]byte
	var most, least []byte
	if e.values > 0 {
		most, least = bounds[0][:], bounds[1][:]
		binary.LittleEndian.PutUint64(most, math.Float64bits(e.most+0)) // −0 + 0 is +0
		binary.LittleEndian.PutUint64(least, math.Float64bits(negativeZero(e.least)))
	}
	nulls, none := int64(e.rows-e.values), (*int64)(nil)
	if distinct {
		none = new(int64)
	}
	w.field(step, compactStruct)
	w.statistics(most, least, &nulls, none, most, least)
}

// negativeZero returns x, or −0 for a zero.
func negativeZero(x float64) float64 {
	if x == 0 {
		return math.Copysign(0, -1)
	}
	return x
}

// write writes a column of a row group: pages of plain numbers, with levels where
// values may be missing, compressed. The bytes are those of the column writer of
// Arrow, which takes many times as long where a column has few rows.
func (p *floatColumn) write(f *parquetFile, g *group, c *column, k *chunk) {
	levels, values, rows := k.levels, k.floats, len(k.levels)
	if !c.nullable {
		levels, rows = nil, len(values)
	}
	whole, pages := nothing, 0
	on := columnPages{start: f.offset, data: f.offset, rows: rows}
	for whole.rows < rows {
		n, present := pageOf(levels, rows-whole.rows)
		about := extentOf(n, values[:present])
		if c.nullable {
			p.encode(levels[:n], values[:present])
			levels = levels[n:]
		} else {
			p.encode(nil, values[:present])
		}
		values = values[present:]
		p.describe(&about, pages == 0)
		f.put(p.head.b)
		f.put(p.packed)
		whole.plus(about)
		on.uncompressed += int64(len(p.head.b) + len(p.page))
		pages++
	}
	on.end = f.offset
	w := g.beginColumn(c.Name, typeDouble, &on, encodingPlain, encodingHybrid)
	whole.describe(w, 3, true)
	w.list(1, 1, compactStruct)
	w.pages(pageOfData, encodingPlain, int64(pages))
	w.end()
	w.end()
}

// pageOf returns the rows of the next page, of so many that are left, and the
// values among them that are present. Without levels all are.
func pageOf(levels []int16, left int) (rows, present int) {
	for rows < left && 8*present < pageSize {
		some := min(rowsBetweenEnds, left-rows)
		if levels == nil {
			present += some
		} else {
			for _, level := range levels[rows : rows+some] {
				present += int(level)
			}
		}
		rows += some
	}
	return rows, present
}

// encode makes the bytes of a page: the levels behind their length, if there are
// any, and the values.
func (p *floatColumn) encode(levels []int16, values []float64) {
	p.page = appendLevels(p.page[:0], levels)
	for _, x := range values {
		p.page = appendDouble(p.page, x)
	}
	p.packed = snappy.Encode(p.packed[:cap(p.packed)], p.page)
}

// appendLevels adds the levels of a page, if there are any, behind their length.
func appendLevels(b []byte, levels []int16) []byte {
	if levels == nil {
		return b
	}
	start := len(b)
	b = appendHybrid(append(b, 0, 0, 0, 0), levels, 1)
	binary.LittleEndian.PutUint32(b[start:], uint32(len(b)-start-4))
	return b
}

var snappy = codec(compress.Codecs.Snappy)

// codec returns a compression that Arrow is known to have.
func codec(of compress.Compression) compress.Codec {
	c, err := compress.GetCodec(of)
	if err != nil {
		panic(err)
	}
	return c
}

func appendDouble(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
}

// describe makes the header of the page.
func (p *floatColumn) describe(about *extent, first bool) {
	w := &p.head
	w.b = w.b[:0]
	w.beginDataPage(len(p.page), len(p.packed), about.rows, encodingPlain)
	about.describe(w, 1, first)
	w.end()
	w.end()
}
