package simd

import "math/bits"

// Sort sorts each of four interleaved sequences in ascending order. No element may be
// NaN. It panics if the length of x is not a multiple of four.
//
// Which elements are compared does not depend on their values: the passes are those
// of Batcher's merge exchange (Knuth 1998, The Art of Computer Programming 3,
// algorithm 5.2.2M).
func Sort(x []float64) {
	if len(x)%Width != 0 {
		panic("simd: sequences to sort of unequal lengths")
	}
	n := len(x) / Width
	if n < 2 {
		return
	}
	half := 1 << (bits.Len(uint(n-1)) - 1)
	for block := half; block > 0; block /= 2 {
		first, distance := 0, block
		for q := half; ; q /= 2 {
			if distance < n {
				compareExchange(x, first, block, distance)
			}
			if q == block {
				break
			}
			first, distance = block, q-block
		}
	}
}

// compareExchange is one pass of the sort:
//
//	for i := range n - distance {
//		if i&block == first { // block is a power of two, first is 0 or block
//			for l := range 4 {
//				a, b := &x[4*i+l], &x[4*(i+distance)+l]
//				*a, *b = min(*a, *b), max(*a, *b)
//			}
//		}
//	}
func compareExchange(x []float64, first, block, distance int) {
	if vector {
		compareExchangeAVX2(&x[0], len(x)/Width-distance, first, block, distance)
		return
	}
	end := len(x) - Width*distance
	for ; Width*first < end; first += 2 * block {
		low := x[Width*first : min(Width*(first+block), end)]
		high := x[Width*(first+distance):][:len(low)]
		for i, a := range low {
			if b := high[i]; !(a < b) {
				low[i], high[i] = b, a
			}
		}
	}
}

// compareExchangeAVX2 puts the elements i, below end, and i + distance in order.
//
//go:noescape
func compareExchangeAVX2(x *float64, end, first, block, distance int)
