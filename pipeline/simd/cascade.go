package simd

import "math"

// Section is a second-order section of a recursive filter,
//
//	y[i] = B[0]·x[i] + B[1]·x[i−1] + B[2]·x[i−2] − A[0]·y[i−1] − A[1]·y[i−2],
//
// in the transposed direct form II, whose state is
//
//	z₁ ← B[1]·x − A[0]·y + z₂,  z₂ ← B[2]·x − A[1]·y.
type Section struct {
	B [3]float64
	A [2]float64
}

// State is the state z₁ and z₂ of a section for each of four sequences.
type State [2][Width]float64

// Cascade filters four interleaved sequences in place with two sections in series:
//
//	for i := range n { // or from n−1 down to 0 if backwards
//		for l := range 4 {
//			v := x[4*i+l]
//			for k, s := range sections {
//				z := &states[k]
//				y := math.FMA(s.B[0], v, z[0][l])
//				z[0][l] = math.FMA(-s.A[0], y, math.FMA(s.B[1], v, z[1][l]))
//				z[1][l] = math.FMA(-s.A[1], y, s.B[2]*v)
//				v = y
//			}
//			x[4*i+l] = v
//		}
//	}
func Cascade(x []float64, sections *[2]Section, states *[2]State, backwards bool) {
	n := len(x) / Width
	if n == 0 {
		return
	}
	first, step := 0, Width
	if backwards {
		first, step = Width*(n-1), -Width
	}
	if vector {
		cascadeAVX2(&x[first], n, 8*step, sections, states)
		return
	}
	for l := range Width {
		at := first + l
		for range n {
			v := x[at]
			for k := range sections {
				s, z := &sections[k], &states[k]
				y := math.FMA(s.B[0], v, z[0][l])
				z[0][l] = math.FMA(-s.A[0], y, math.FMA(s.B[1], v, z[1][l]))
				z[1][l] = math.FMA(-s.A[1], y, float64(s.B[2]*v))
				v = y
			}
			x[at] = v
			at += step
		}
	}
}

// cascadeAVX2 filters n elements of four sequences, step bytes from one to the next.
//
//go:noescape
func cascadeAVX2(x *float64, n, step int, sections *[2]Section, states *[2]State)
