package network

import (
	"encoding/binary"
	"fmt"
	"math"
)

// packFloats writes x as little-endian float32, without loss.
func packFloats(x []float32) []byte {
	b := make([]byte, 0, 4*len(x))
	for _, v := range x {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
	}
	return b
}

// unpackFloats is the inverse of packFloats.
func unpackFloats(b []byte) ([]float32, error) {
	if len(b)%4 != 0 {
		return nil, fmt.Errorf("network: %d bytes are no whole number of float32: the file is damaged", len(b))
	}
	x := make([]float32, len(b)/4)
	for i := range x {
		x[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return x, nil
}
