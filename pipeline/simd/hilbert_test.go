package simd

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

func TestHilbertLength(t *testing.T) {
	fits := func(n int) bool {
		if n%8 != 0 {
			return false
		}
		for n%2 == 0 {
			n /= 2
		}
		return n == 1 || n == 3
	}
	for n := 1; n < 3000; n++ {
		want := n
		for !fits(want) {
			want++
		}
		if got := HilbertLength(n); got != want {
			t.Fatalf("HilbertLength(%d) = %d, want %d", n, got, want)
		}
	}
}

// TestHilbertAgainstGonum compares with the transform of gonum, of which every
// positive frequency is multiplied by −j.
func TestHilbertAgainstGonum(t *testing.T) {
	for _, n := range []int{8, 16, 24, 32, 48, 64, 96, 128, 384, 6144, 8192} {
		r, x := rand.New(rand.NewPCG(uint64(n), 1)), make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		fft := fourier.NewFFT(n)
		c := fft.Coefficients(nil, x)
		for k, v := range c {
			c[k] = complex(imag(v), -real(v)) / complex(float64(n), 0)
		}
		c[0], c[n/2] = 0, 0
		want := fft.Sequence(nil, c)

		in, work := NewBlock(n/8), NewBlock(n/8)
		for m := range in.Re {
			in.Re[m], in.Im[m] = x[2*m], x[2*m+1]
		}
		got := NewHilbert(n).Transform(in, work)
		for i := range want {
			v := got.Re[i/2]
			if i%2 == 1 {
				v = got.Im[i/2]
			}
			if !(math.Abs(v-want[i]) < 1e-13) {
				t.Fatalf("%d samples: sample %d is %v, want %v", n, i, v, want[i])
			}
		}
	}
}
