package network

import "math"

// rectify replaces each negative value of x by zero, max(x, 0). It clears by the
// sign bit: a branch on a sign that is random would cost more than the rest.
func rectify(x []float32) {
	for i, v := range x {
		b := math.Float32bits(v)
		x[i] = math.Float32frombits(b &^ uint32(int32(b)>>31))
	}
}

// gradRectify clears dy where the rectified value y is zero; dy becomes the
// gradient by the rectifier's input.
func gradRectify(dy, y []float32) {
	y = y[:len(dy)]
	for i, v := range dy {
		positive := uint32(-int32(math.Float32bits(y[i])) >> 31)
		dy[i] = math.Float32frombits(math.Float32bits(v) & positive)
	}
}
