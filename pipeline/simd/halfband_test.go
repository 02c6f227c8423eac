package simd

import (
	"testing"
)

// TestHalfBandIsTheSum compares with the defining sum on whole numbers, whose sums
// are exact, from before the first to behind the last sample, in blocks and at the
// seams between them.
func TestHalfBandIsTheSum(t *testing.T) {
	for _, side := range [][]float64{{5}, {5, -2}, {9, -7, 5, -3, 2, 1}} {
		h := NewHalfBand(11, side)
		for _, n := range []int{0, 1, 2, 3, 10, 11, 37, 4*halfBandBlock + 3, 4*halfBandBlock + 6} {
			x := make([]float64, n)
			for i := range x {
				x[i] = float64((i*i+3*i)%101 - 50)
			}
			at := func(i int) float64 {
				if i < 0 || i >= n {
					return 0
				}
				return x[i]
			}
			for _, from := range []int{-20, -5, -1, 0, 3} {
				dst := make([]float64, n/2+40)
				h.Filter(dst, x, from)
				for i, got := range dst {
					m := 2 * (from + i)
					want := 11 * at(m)
					for j, w := range side {
						want += w * (at(m-2*j-1) + at(m+2*j+1))
					}
					if got != want {
						t.Fatalf("%d weights a side, %d samples: around sample %d %v, want %v", len(side), n, m, got, want)
					}
				}
			}
		}
	}
}
