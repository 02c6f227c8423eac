package table

import "encoding/binary"

// compactWriter gathers bytes of the compact protocol. A field of a struct is told
// by the difference between its number and that of the field before it, which is
// never more than 15 in what is written here.
type compactWriter struct{ b []byte }

func (w *compactWriter) field(step int, typ byte) { w.b = append(w.b, byte(step)<<4|typ) }

// end ends a struct.
func (w *compactWriter) end() { w.b = append(w.b, 0) }

// integer writes a number in zigzag order.
func (w *compactWriter) integer(v int64) { w.b = binary.AppendVarint(w.b, v) }

func (w *compactWriter) i16(step int, v int64) { w.field(step, compactI16); w.integer(v) }
func (w *compactWriter) i32(step int, v int64) { w.field(step, compactI32); w.integer(v) }
func (w *compactWriter) i64(step int, v int64) { w.field(step, compactI64); w.integer(v) }

// statistics writes the fields of the statistics of a page or a column, those that
// are not nil.
func (w *compactWriter) statistics(most, least []byte, nulls, distinct *int64, mostValue, leastValue []byte) {
	step := 1
	value := func(b []byte) {
		if b != nil {
			w.field(step, compactBinary)
			w.b = append(binary.AppendUvarint(w.b, uint64(len(b))), b...)
			step = 0
		}
		step++
	}
	count := func(n *int64) {
		if n != nil {
			w.i64(step, *n)
			step = 0
		}
		step++
	}
	value(most)
	value(least)
	count(nulls)
	count(distinct)
	value(mostValue)
	value(leastValue)
	w.end()
}

func (w *compactWriter) text(s string) {
	w.b = binary.AppendUvarint(w.b, uint64(len(s)))
	w.b = append(w.b, s...)
}

// list writes the head of a list.
func (w *compactWriter) list(step, size int, element byte) {
	w.field(step, compactList)
	if size < 15 {
		w.b = append(w.b, byte(size)<<4|element)
		return
	}
	w.b = append(w.b, 15<<4|element)
	w.b = binary.AppendUvarint(w.b, uint64(size))
}
