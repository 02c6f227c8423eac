package simd

import "encoding/binary"

// Int16s writes scale times each of the 16-bit numbers in src, the lower byte
// first, to dst. It panics unless src holds two bytes for each.
func Int16s(dst []float64, src []byte, scale float64) {
	if len(src) != 2*len(dst) {
		panic("simd: two bytes make a number of 16 bits")
	}
	int16s(dst, src, scale)
}

func int16sPortable(dst []float64, src []byte, scale float64) {
	for i := range dst {
		dst[i] = float64(int16(binary.LittleEndian.Uint16(src[2*i:]))) * scale
	}
}
