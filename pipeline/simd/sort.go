package simd

import "math/bits"

// Sort sorts four sequences of equally many numbers that lie side by side, none of
// which may be NaN, from the least to the greatest. It panics if the length of x
// is no multiple of four.
//
// What is compared with what does not depend on the outcome: the passes are those
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
				exchange(x, first, block, distance)
			}
			if q == block {
				break
			}
			first, distance = block, q-block
		}
	}
}

// exchangePortable brings elements i and i + distance into order, for all i with
// the bit of block (a power of two) as it is in first (0 or block).
func exchangePortable(x []float64, first, block, distance int) {
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
