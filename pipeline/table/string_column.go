package table

import (
	"bytes"
	"encoding/binary"
	"math/bits"

	"github.com/apache/arrow/go/v17/parquet"
)

// A column with a longer string, or with a larger dictionary, is left to Arrow,
// which writes it another way.
const (
	longestString     = 1 << 10
	largestDictionary = int(parquet.DefaultDictionaryPageSizeLimit) // bytes
)

// stringColumn encodes columns of strings by dictionaries. It holds the buffers for
// one column.
type stringColumn struct {
	dictionary  []byte            // every string that occurs, behind its length
	known       map[string]uint16 // their numbers
	indices     []uint16          // by value, number of its string
	least, most []byte            // of the strings, nil where there is none

	page, packed []byte
	head         compactWriter
}

// write writes a column of a row group: a page with its dictionary and one with
// levels, where values may be missing, and indices. A row group has so few rows that
// one page always holds them. The bytes are those of the column writer of Arrow. It
// reports false, and writes nothing, where the column has to be left to it.
func (p *stringColumn) write(f *parquetFile, g *group, c *column, k *chunk) bool {
	if !p.number(k) {
		return false
	}
	about := columnPages{start: f.offset, rows: len(k.ends)}
	var levels []int16
	if c.nullable {
		levels = k.levels
		about.rows = len(levels)
	}
	nulls := int64(about.rows - len(k.ends))

	p.packed = snappy.Encode(p.packed[:cap(p.packed)], p.dictionary)
	p.describeDictionary()
	about.uncompressed = int64(len(p.head.b) + len(p.dictionary))
	f.put(p.head.b)
	f.put(p.packed)

	about.data = f.offset
	p.encode(levels)
	p.head.b = p.head.b[:0]
	p.head.beginDataPage(len(p.page), len(p.packed), about.rows, encodingDictionary)
	p.describe(&p.head, 1, nulls)
	p.head.end()
	p.head.end()
	about.uncompressed += int64(len(p.head.b) + len(p.page))
	f.put(p.head.b)
	f.put(p.packed)

	about.end = f.offset
	w := g.beginColumn(c.Name, typeBytes, &about, encodingDictionary, encodingPlain, encodingHybrid)
	w.i64(2, about.start) // of the dictionary
	p.describe(w, 1, nulls)
	w.list(1, 2, compactStruct)
	w.pages(pageOfDictionary, encodingPlain, 1)
	w.pages(pageOfData, encodingDictionary, 1)
	w.end()
	w.end()
	return true
}

// number makes dictionary and indices of the strings, in the order in which they
// first occur. It reports false where the column has to be left to Arrow.
func (p *stringColumn) number(k *chunk) bool {
	if p.known == nil {
		p.known = map[string]uint16{}
	}
	clear(p.known)
	p.dictionary, p.indices = p.dictionary[:0], p.indices[:0]
	p.least, p.most = nil, nil
	var last []byte
	var index uint16
	start := 0
	for i, end := range k.ends {
		s := k.text[start:end]
		start = end
		if i == 0 || !bytes.Equal(s, last) { // most often it is the one before
			var ok bool
			if index, ok = p.known[string(s)]; !ok {
				index = p.add(s)
				if len(s) > longestString || len(p.dictionary) >= largestDictionary {
					return false
				}
			}
			last = s
		}
		p.indices = append(p.indices, index)
	}
	return true
}

// add adds a string to the dictionary and returns its number.
func (p *stringColumn) add(s []byte) uint16 {
	index := uint16(len(p.known)) // a row group has at most 1<<16 rows
	p.known[string(s)] = index
	p.dictionary = binary.LittleEndian.AppendUint32(p.dictionary, uint32(len(s)))
	p.dictionary = append(p.dictionary, s...)
	if index == 0 || bytes.Compare(s, p.least) < 0 {
		p.least = s
	}
	if index == 0 || bytes.Compare(s, p.most) > 0 {
		p.most = s
	}
	return index
}

// encode makes the bytes of the page of data: the levels behind their length, if
// there are any, the width of the indices and the indices.
func (p *stringColumn) encode(levels []int16) {
	p.page = appendLevels(p.page[:0], levels)
	width := bits.Len(uint(max(len(p.known)-1, 0)))
	if len(p.known) == 1 {
		width = 1
	}
	p.page = append(p.page, byte(width))
	p.page = appendHybrid(p.page, p.indices, width)
	p.packed = snappy.Encode(p.packed[:cap(p.packed)], p.page)
}

// describeDictionary makes the header of the page of the dictionary.
func (p *stringColumn) describeDictionary() {
	w := &p.head
	w.b = w.b[:0]
	w.i32(1, pageOfDictionary)
	w.i32(1, int64(len(p.dictionary)))
	w.i32(1, int64(len(p.packed)))
	w.field(4, compactStruct)
	w.i32(1, int64(len(p.known)))
	w.i32(1, encodingPlain)
	w.field(1, compactFalse) // not sorted
	w.end()
	w.end()
}

// describe writes the statistics. Arrow counts no distinct values but says so, as 0.
func (p *stringColumn) describe(w *compactWriter, step int, nulls int64) {
	w.field(step, compactStruct)
	w.statistics(nil, nil, &nulls, new(int64), p.most, p.least)
}
