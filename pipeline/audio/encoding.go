package audio

import (
	"encoding/binary"
	"math"
)

// encoding is one way of writing a sample down.
type encoding struct {
	name  string
	code  uint16
	bytes int // a sample

	// add adds the samples that start at src[0], src[stride], src[2·stride] …
	// to the elements of dst, scaled to full scale 1. It runs over a whole
	// block, so that the encoding is looked at once a block and not once a
	// sample.
	add func(dst []float64, src []byte, stride int)
}

var encodings = []encoding{
	{"8-bit PCM", codePCM, 1, addUint8},
	{"16-bit PCM", codePCM, 2, addInt16},
	{"24-bit PCM", codePCM, 3, addInt24},
	{"32-bit PCM", codePCM, 4, addInt32},
	{"32-bit float", codeFloat, 4, addFloat32},
	{"64-bit float", codeFloat, 8, addFloat64},
}

// float reports whether samples can be anything but finite numbers of at most
// full scale.
func (e *encoding) float() bool { return e.code == codeFloat }

func addUint8(dst []float64, src []byte, stride int) {
	for i := range dst {
		dst[i] += float64(int(src[i*stride])-128) * 0x1p-7
	}
}

func addInt16(dst []float64, src []byte, stride int) {
	for i := range dst {
		v := int16(binary.LittleEndian.Uint16(src[i*stride:]))
		dst[i] += float64(v) * 0x1p-15
	}
}

func addInt24(dst []float64, src []byte, stride int) {
	for i := range dst {
		b := src[i*stride : i*stride+3]
		v := int32(uint32(b[0])<<8 | uint32(b[1])<<16 | uint32(b[2])<<24)
		dst[i] += float64(v) * 0x1p-31
	}
}

func addInt32(dst []float64, src []byte, stride int) {
	for i := range dst {
		v := int32(binary.LittleEndian.Uint32(src[i*stride:]))
		dst[i] += float64(v) * 0x1p-31
	}
}

func addFloat32(dst []float64, src []byte, stride int) {
	for i := range dst {
		dst[i] += float64(math.Float32frombits(binary.LittleEndian.Uint32(src[i*stride:])))
	}
}

func addFloat64(dst []float64, src []byte, stride int) {
	for i := range dst {
		dst[i] += math.Float64frombits(binary.LittleEndian.Uint64(src[i*stride:]))
	}
}
