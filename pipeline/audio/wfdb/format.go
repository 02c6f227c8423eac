package wfdb

import (
	"encoding/binary"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// format is one way of storing samples.
type format struct {
	bits    int
	invalid int32 // stands for no sample
	size    func(samples int64) int64
	count   func(bytes int64) int64 // of whole samples
	at      func(b []byte, k int) int32
}

var formats = map[int]format{
	16: whole(2, -1<<15, func(b []byte) int32 { return int32(int16(binary.LittleEndian.Uint16(b))) }),
	24: whole(3, -1<<23, func(b []byte) int32 { return int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24) >> 8 }),
	32: whole(4, -1<<31, func(b []byte) int32 { return int32(binary.LittleEndian.Uint32(b)) }),
	61: whole(2, -1<<15, func(b []byte) int32 { return int32(int16(binary.BigEndian.Uint16(b))) }),
	80: whole(1, -1<<7, func(b []byte) int32 { return int32(b[0]) - 128 }),
	212: {
		bits: 12, invalid: -1 << 11,
		size:  func(samples int64) int64 { return (3*samples + 1) / 2 },
		count: func(bytes int64) int64 { return bytes/3*2 + bytes%3/2 },
		at: func(b []byte, k int) int32 {
			b = b[k/2*3:]
			v := uint32(b[0]) | uint32(b[1])<<8
			if k%2 == 1 {
				v = uint32(b[2]) | uint32(b[1]&0xF0)<<4
			}
			return int32(v<<20) >> 20
		},
	},
}

// whole is a format with a whole number of bytes per sample.
func whole(bytes int64, invalid int32, decode func(b []byte) int32) format {
	return format{
		bits: int(8 * bytes), invalid: invalid,
		size:  func(samples int64) int64 { return samples * bytes },
		count: func(have int64) int64 { return have / bytes },
		at:    func(b []byte, k int) int32 { return decode(b[k*int(bytes):]) },
	}
}

// format returns the format of a signal.
func (s *Signal) format() (format, error) {
	f, ok := formats[s.Format]
	if !ok {
		var names []string
		for _, n := range slices.Sorted(maps.Keys(formats)) {
			names = append(names, fmt.Sprint(n))
		}
		return f, fmt.Errorf("%w: format %d of %q: convert the record to one of %s", ErrFormat, s.Format, s.File, strings.Join(names, ", "))
	}
	return f, nil
}
