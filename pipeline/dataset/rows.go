package dataset

import (
	"strings"
	"time"
)

// The largest number of rows that an annotation or a segmentation may have: a
// row for every shortestRow of the recording, and spareRows more.
//
// At 300 beats per minute, more than any heart that is recorded, there are 20
// states per second. shortestRow leaves five times as many, enough for tables
// with a row per frame of 10 ms. spareRows leaves room for repeated rows in
// short recordings. unknownLength stands for the length of a recording whose
// audio cannot be read.
const (
	shortestRow   = 10 * time.Millisecond
	spareRows     = 1000
	unknownLength = 2 * time.Hour
)

// MaxRows returns the largest number of rows that the annotation or segmentation
// of a recording of that length may have; a length of 0 is unknown.
func MaxRows(length time.Duration) int {
	if length <= 0 {
		length = unknownLength
	}
	return spareRows + int(length/shortestRow)
}

// lengthInWords writes the length of a recording; 0 is unknown.
func lengthInWords(length time.Duration) string {
	if length <= 0 {
		return "unknown length"
	}
	return seconds(length)
}

// tableLines are the lines of one recording in a table of all recordings. They
// are kept as text, since fields of their own would take several times as much
// memory.
type tableLines struct {
	numbers []int32 // of the lines in the table
	ends    []int32 // of the lines in text; a table has at most maxTableSize bytes
	text    []byte  // the fields of all lines, with a fieldEnd after each
}

// fieldEnd is a byte that no field has: splitFields refuses it.
const fieldEnd = "\x00"

func (l *tableLines) add(number int, fields []string) {
	for _, f := range fields {
		l.text = append(append(l.text, f...), fieldEnd...)
	}
	l.numbers, l.ends = append(l.numbers, int32(number)), append(l.ends, int32(len(l.text)))
}

// read gives the lines to a reader, until that has a row too many.
func (l *tableLines) read(a *annotationReader) {
	from := int32(0)
	for i, number := range l.numbers {
		line := strings.TrimSuffix(string(l.text[from:l.ends[i]]), fieldEnd)
		if a.add(int(number), strings.Split(line, fieldEnd)) != nil {
			return
		}
		from = l.ends[i]
	}
}
