package features

import (
	"math"
	"math/bits"
)

// templateMatcher counts the matches of templates in a sequence. It holds buffers
// and serves one goroutine.
type templateMatcher struct {
	padded []float64
	steps  []int16
	twice  []uint32 // each step in both halves
}

// templateMatchesPortable returns how many pairs of templates of two samples match in x,
// and how many of these match in a third sample too:
//
//	for i := range n - 2 {
//		for j := i + 1; j < n-2; j++ {
//			if near(x[i], x[j]) && near(x[i+1], x[j+1]) {
//				two++
//				if near(x[i+2], x[j+2]) {
//					three++
//				}
//			}
//		}
//	}
//
// where n is the length of x and near(a, b) is |a − b| ≤ r, which is false for NaN;
// r is not NaN. These are the counts of sample entropy for templates of two samples
// (Richman and Moorman 2000).
//
// It goes through the differences at one distance j − i from the end of x, so that it
// only has to keep which of the last three are near.
func templateMatchesPortable(x []float64, r float64) (two, three int) {
	// As whole numbers, the bits of |d| are in the order of |d|. Adding carry to
	// the bits of d without the sign overflows if |d| > r.
	carry := ^(math.Float64bits(r) << 1)
	n := len(x)
	for distance := 1; distance <= n-3; distance++ {
		late, early := x[distance:], x[:n-distance]
		end := n - distance
		far := ^uint64(0) // bit k: the difference k steps ago exceeds r
		far = shiftIn(far, late[end-1]-early[end-1], carry)
		far = shiftIn(far, late[end-2]-early[end-2], carry)
		for end -= 2; end > 0; {
			m := min(end, 62) // with the two before, 64 bits
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

// shiftIn shifts far to the left and sets its lowest bit if |d| > r.
func shiftIn(far uint64, d float64, carry uint64) uint64 {
	_, beyond := bits.Add64(math.Float64bits(d)<<1, carry, 0)
	far, _ = bits.Add64(far, far, beyond)
	return far
}
