package signal

import (
	"math"
	"testing"
)

func TestAutocorrelationAgainstDirectSum(t *testing.T) {
	a := NewAutocorrelator()
	for _, n := range []int{1, 2, 7, 100, 333, 1000} {
		x := noise(n, uint64(n))
		for i := range x {
			x[i] += 5 // the mean must not count
		}
		mean, _ := MeanSD(x)
		const most = 120
		got := a.Biased(nil, x, most)
		power := 0.0
		for _, v := range x {
			power += (v - mean) * (v - mean)
		}
		for k := 0; k <= most; k++ {
			want := 0.0
			for i := 0; i+k < n; i++ {
				want += (x[i] - mean) * (x[i+k] - mean)
			}
			if power > 0 {
				want /= power
			}
			if math.Abs(got[k]-want) > 1e-12 {
				t.Fatalf("%d samples: r(%d) = %g, want %g", n, k, got[k], want)
			}
		}
	}
}
