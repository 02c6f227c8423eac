package signal

import (
	"math"
	"testing"
)

// Shares of p = (1/2, 1/4, 1/8, 1/8) and no share at all: the entropy is
// 7/4 ln 2, whatever the total.
func TestEvenness(t *testing.T) {
	for _, total := range []float64{1, 1e-30, 1e200} {
		for n := range 2 {
			x := []float64{total / 2, total / 4, total / 8, total / 8, 0}[:4+n]
			logs := make([]float64, len(x))
			for k, v := range x {
				logs[k] = math.Log(v)
			}
			want := 1.75 * math.Ln2 / math.Log(float64(len(x)))
			if got := Evenness(x, logs, total); math.Abs(got-want) > 1e-13 {
				t.Errorf("%v: %v, want %v", x, got, want)
			}
		}
	}
}
