package signal

import (
	"math"

	"phonocycle/pipeline/simd"
)

// A spline wavelet pair of Cohen, Daubechies and Feauveau 1992 (Comm Pure Appl
// Math 45:485, doi 10.1002/cpa.3160450502) with filters of order 3 and 9.
//
// The short low-pass is the cubic-box spline √2·cos³(ω/2), the long one is
//
//	√2·cos⁹(ω/2)·Σ_{n=0..5} C(5+n, n)·sin²ⁿ(ω/2),
//
// both centred between two samples. They are biorthogonal: the sum over k of
// short[k]·long[k+2m] is 1 for m = 0 and 0 otherwise. In the reverse
// biorthogonal transform 3.9 the short filter analyses and the long one
// synthesises, so that the wavelet that analyses, the long filter with
// alternating signs, has nine vanishing moments: the details of a polynomial
// of degree up to eight are zero.

// ReverseBiorthogonal39 returns the four filters of the reverse biorthogonal
// spline transform 3.9. All have even length and are (anti)symmetric about
// their middle, between two samples.
func ReverseBiorthogonal39() (analysisLow, analysisHigh, synthesisLow, synthesisHigh []float64) {
	short := cosinePower(3)
	long := make([]float64, 20)
	nine := cosinePower(9)
	sin2 := []float64{-0.25, 0.5, -0.25} // sin²(ω/2), centred on a sample
	term := []float64{1}
	binomial := 1.0
	for n := 0; n <= 5; n++ {
		full := convolve(nine, term)
		for i, v := range full {
			long[(len(long)-len(full))/2+i] += binomial * v / math.Sqrt2
		}
		term = convolve(term, sin2)
		binomial *= float64(6+n) / float64(n+1)
	}
	for i := range long {
		long[i] *= math.Sqrt2
	}
	return short, alternate(long), long, alternate(short)
}

// cosinePower returns the filter √2·cosⁿ(ω/2).
func cosinePower(n int) []float64 {
	h := []float64{math.Sqrt2}
	for range n {
		h = convolve(h, []float64{0.5, 0.5})
	}
	return h
}

// alternate returns the high-pass quadrature mirror of an even-length filter.
func alternate(h []float64) []float64 {
	g := make([]float64, len(h))
	for i, v := range h {
		g[i] = v
		if (i-len(h)/2)%2 != 0 {
			g[i] = -v
		}
	}
	return g
}

func convolve(a, b []float64) []float64 {
	c := make([]float64, len(a)+len(b)-1)
	for i, u := range a {
		for j, v := range b {
			c[i+j] += u * v
		}
	}
	return c
}

// Wavelet computes the detail coefficients of one level of an undecimated
// (stationary) wavelet transform: at level j the filters are spread by 2^(j−1)
// instead of the signal being thinned out (Holschneider et al. 1989), so that
// there is one coefficient a sample. Level j holds about fs/2^(j+1) to fs/2^j
// hertz.
type Wavelet struct {
	low, high []float64
	level     int
	smooth    []float64
	next      []float64
}

// NewWavelet returns a plan for the given level, at least 1, of the transform
// with the given analysis filters.
func NewWavelet(analysisLow, analysisHigh []float64, level int) *Wavelet {
	return &Wavelet{low: analysisLow, high: analysisHigh, level: level}
}

// Detail writes the detail coefficients of x to dst, aligned with x to half a
// sample; x is mirrored at its ends. dst may be x.
func (w *Wavelet) Detail(dst, x []float64) []float64 {
	dst = resize(dst, len(x))
	w.transform(x, func(level int, spread int, ahead float64) {
		if level == w.level {
			correlate(dst, w.smooth, w.high, spread, ahead)
		}
	})
	return dst
}

// Details writes the detail coefficients of every level from 1 to that of the
// plan, of level j to dst[j−1], which must not be x.
func (w *Wavelet) Details(dst [][]float64, x []float64) {
	w.transform(x, func(level int, spread int, ahead float64) {
		dst[level-1] = resize(dst[level-1], len(x))
		correlate(dst[level-1], w.smooth, w.high, spread, ahead)
	})
}

// transform smooths x level by level and calls visit at each, with the spread of
// the filters there and how far ahead of its sample w.smooth lies.
func (w *Wavelet) transform(x []float64, visit func(level, spread int, ahead float64)) {
	w.smooth = append(w.smooth[:0], x...)
	w.next = resize(w.next, len(x))
	ahead, spread := 0.0, 1
	for level := 1; ; level++ {
		visit(level, spread, ahead)
		if level == w.level {
			return
		}
		ahead = correlate(w.next, w.smooth, w.low, spread, ahead)
		w.smooth, w.next = w.next, w.smooth
		spread *= 2
	}
}

// correlate writes to dst the inner products of h, spread, with x around each
// sample, and returns by how much of a sample the middle of h lies ahead of
// the sample that the result is written to: an h of even length has its middle
// between two samples. The ahead of x itself is made good as far as whole
// samples can.
func correlate(dst, x, h []float64, spread int, ahead float64) float64 {
	n := len(x)
	reach := spread * (len(h) - 1)
	middle := float64(reach)/2 + ahead
	back := int(math.Floor(middle))
	i := correlateEdge(dst, x, h, spread, back, 0, min(back, n))
	if end := n - reach + back; i < end { // h lies within x from back to before end
		simd.Correlate(dst[i:end], x[i-back:], h, spread)
		i = end
	}
	correlateEdge(dst, x, h, spread, back, i, n)
	return middle - float64(back)
}

// correlateEdge does the samples from i to before end, where h may reach over an
// end of x, and returns end.
func correlateEdge(dst, x, h []float64, spread, back, i, end int) int {
	for ; i < end; i++ {
		sum := 0.0
		for k, c := range h {
			sum += c * x[mirror(i-back+k*spread, len(x))]
		}
		dst[i] = sum
	}
	return end
}

// mirror maps an index outside [0, n) to the sample that it sees in mirrors
// standing at −1/2 and at n − 1/2.
func mirror(i, n int) int {
	i %= 2 * n
	if i < 0 {
		i += 2 * n
	}
	if i >= n {
		i = 2*n - 1 - i
	}
	return i
}
