package simd

import (
	"math"
	"math/bits"
)

// Recurrence counts where a sequence comes back to what it has been. It holds
// buffers; it is not for concurrent use.
type Recurrence struct {
	padded []float64
	steps  []int16
	twice  []uint32 // each step in both halves
}

// Count returns how many pairs of places i < j there are in x, where j + 2 is the
// last place at most, for which
//
//	|x[i] − x[j]| ≤ r and |x[i+1] − x[j+1]| ≤ r,
//
// and how many of these for which |x[i+2] − x[j+2]| ≤ r as well. Both are the
// counts of sample entropy for templates of two (Richman and Moorman 2000, doi
// 10.1152/ajpheart.2000.278.6.H2039). NaN is near nothing, and r is none.
//
// The differences at one distance j − i are gone through from the end of x, so
// that which of the last three are small is all that has to be kept.
func (c *Recurrence) Count(x []float64, r float64) (two, three int) {
	if len(x) < 4 {
		return 0, 0
	}
	return c.count(x, r)
}

func recurPortable(x []float64, r float64) (two, three int) {
	// As whole numbers, the bits of |d| are ordered as |d| is. This is added to
	// those of a d, without the sign, and carries where |d| > r.
	carry := ^(math.Float64bits(r) << 1)
	n := len(x)
	for lag := 1; lag <= n-3; lag++ {
		late, early := x[lag:], x[:n-lag]
		end := n - lag
		far := ^uint64(0) // bit k: the difference k steps ago was beyond r
		far = shiftIn(far, late[end-1]-early[end-1], carry)
		far = shiftIn(far, late[end-2]-early[end-2], carry)
		for end -= 2; end > 0; {
			m := min(end, 62) // with the two before, a word
			a, b := late[end-m:end], early[end-m:end]
			for i := len(a) - 1; i >= 0; i-- {
				far = shiftIn(far, a[i]-b[i], carry)
			}
			near := ^far
			pairs := near & (near >> 1) & (1<<m - 1)
			two += bits.OnesCount64(pairs)
			three += bits.OnesCount64(pairs & (near >> 2))
			end -= m
		}
	}
	return two, three
}

// shiftIn appends to far the bit of the difference d.
func shiftIn(far uint64, d float64, carry uint64) uint64 {
	_, beyond := bits.Add64(math.Float64bits(d)<<1, carry, 0)
	far, _ = bits.Add64(far, far, beyond)
	return far
}
