package simd

import "math/cmplx"

// Hilbert is a plan of the Hilbert transform of a periodic sequence x of n real
// numbers, n divisible by 8, in which every positive frequency is delayed by a
// quarter of its period.
//
// Neighbours are joined to complex numbers z[m] = x[2m] + j·x[2m + 1], of which
// Z, of M = n/2 points, gives the transforms of the even and of the odd samples,
//
//	2E[k] = Z[k] + Z[M − k]*,  2j·O[k] = Z[k] − Z[M − k]*,
//
// and with w = e^(−2πj k/n) that of x: X[k] = E[k] + w·O[k] for 0 < k < M, and
// X[k + M] = E[k] − w·O[k]. The Hilbert transform multiplies the first by −j and
// the second by j, which leaves E′[k] = −jw·O[k] and O′[k] = −jw*·E[k], and thus
//
//	Z′[k] = E′[k] + j·O′[k] = w*·E[k] − jw·O[k],
//
// without X ever being computed. X[0] and X[M] become zero.
//
// Z itself is made of the transforms L of the four interleaved sequences of K = M/4
// points in z, and split into them again:
//
//	Z[k + qK] = Σ_l (−j)^(lq) · e^(−2πj lk/M) · L_l[k].
type Hilbert struct {
	n   int
	fft *FFT

	// twiddles holds, for each four k from 1 to (K − 1)/2 at a time, the factors of
	// hilbertTwiddles, each for the four, its real before its imaginary part.
	twiddles []float64
	middle   hilbertTwiddles // of k = K/2
}

// hilbertTwiddles are the factors for one k: e^(−2πj lk/M) for l = 1, 2, 3, and
// e^(−2πj (k + qK)/n)/n for q from 0 to 3. The 1/n cancels the factors of both
// transforms and of the doubling in quadrature.
type hilbertTwiddles [7]complex128

// HilbertLength returns the least length that is at least n and eight times a
// power of two, or three times one.
func HilbertLength(n int) int {
	length := 8
	for length < n {
		length *= 2
	}
	if three := length / 4 * 3; three >= n && three >= 24 {
		length = three
	}
	return length
}

// NewHilbert returns a plan for sequences of n numbers. It panics unless n is
// eight times a power of two, or three times one.
func NewHilbert(n int) *Hilbert {
	if n < 8 || n%8 != 0 {
		panic("simd: Hilbert transform of a length that eight does not divide")
	}
	h := &Hilbert{n: n, fft: NewFFT(n / 8)}
	parts := n / 8
	h.middle = h.twiddlesOf(parts / 2)
	pairs := (parts - 1) / 2
	h.twiddles = make([]float64, (pairs+Width-1)/Width*2*Width*len(hilbertTwiddles{}))
	for k := 1; k <= pairs; k++ {
		at := h.twiddles[h.place(k):]
		for i, w := range h.twiddlesOf(k) {
			at[2*Width*i], at[2*Width*i+Width] = real(w), imag(w)
		}
	}
	return h
}

// place returns where the factors of k begin.
func (h *Hilbert) place(k int) int {
	return (k-1)/Width*2*Width*len(hilbertTwiddles{}) + (k-1)%Width
}

func (h *Hilbert) twiddlesOf(k int) (t hilbertTwiddles) {
	for l := range 3 {
		t[l] = complex(twiddle(2*(l+1)*k, h.n))
	}
	for q := range 4 {
		re, im := twiddle(k+q*h.n/8, h.n)
		t[3+q] = complex(re/float64(h.n), im/float64(h.n))
	}
	return t
}

// Transform returns the Hilbert transform of x, whose samples 2m and 2m + 1 are
// x.Re[m] and x.Im[m], in the memory of x or of work, as long as x; the other is
// overwritten. It panics if one of them does not hold n numbers.
func (h *Hilbert) Transform(x, work Block) Block {
	y := h.fft.Transform(x, work)
	if &y.Re[0] == &x.Re[0] {
		x = work
	}
	h.selfMirrored(y)
	h.pairs(y)
	return h.fft.Transform(y.swapped(), x).swapped()
}

// pairs does the k from 1 to (K − 1)/2, each with K − k.
//
// The factors of K − k are those of k but for a conjugation and a shift by one of
// the sums, so that point q of k has its mirror image at point −q, mod 4, of the
// sums u of K − k.
func (h *Hilbert) pairs(y Block) {
	parts := h.n / 8
	k := 1
	if groups := (parts - 1) / 2 / Width; vector && groups > 0 {
		var scratch [64]float64
		hilbertAVX2(&y.Re[0], &y.Im[0], &h.twiddles[0], &scratch, parts, groups)
		k += Width * groups
	}
	for ; 2*k < parts; k++ {
		var t hilbertTwiddles
		at := h.twiddles[h.place(k):]
		for i := range t {
			t[i] = complex(at[2*Width*i], at[2*Width*i+Width])
		}
		p := [3]complex128(t[:3])
		c := conjugates(p)
		z, u := y.join(k, p), y.join(parts-k, c)
		for q := range 4 {
			quadrature(&z[q], &u[-q&3], t[3+q])
		}
		y.split(k, z, c)
		y.split(parts-k, u, p)
	}
}

// hilbertAVX2 does as many groups of four k, from 1 on, each with K − k, for K parts.
//
//go:noescape
func hilbertAVX2(re, im, twiddles *float64, scratch *[64]float64, parts, groups int)

// selfMirrored handles k = 0 and k = K/2, which are their own mirror images.
func (h *Hilbert) selfMirrored(y Block) {
	one := [3]complex128{1, 1, 1}
	first := h.twiddlesOf(0)
	z := y.join(0, one)
	z[0] = 0
	quadrature(&z[1], &z[3], first[3+1])
	own := z[2]
	quadrature(&z[2], &own, first[3+2])
	y.split(0, z, one)
	if parts := h.n / 8; parts%2 == 0 {
		p := [3]complex128(h.middle[:3])
		z := y.join(parts/2, p)
		quadrature(&z[0], &z[3], h.middle[3])
		quadrature(&z[1], &z[2], h.middle[4])
		y.split(parts/2, z, conjugates(p))
	}
}

func conjugates(p [3]complex128) [3]complex128 {
	return [3]complex128{cmplx.Conj(p[0]), cmplx.Conj(p[1]), cmplx.Conj(p[2])}
}

// join returns the sums over l of (−j)^(lq)·p_l·L_l[k] for q from 0 to 3, with
// p_0 = 1.
func (b Block) join(k int, p [3]complex128) [4]complex128 {
	l := [4]complex128{b.get(Width * k)}
	for i, w := range p {
		l[i+1] = times(b.get(Width*k+i+1), real(w), imag(w))
	}
	return fourier4(l[0], l[1], l[2], l[3])
}

// split undoes join but for a factor of four: p are the conjugates of its factors.
func (b Block) split(k int, z [4]complex128, p [3]complex128) {
	// With j in the place of −j, the points 1 and 3 change places.
	l := fourier4(z[0], z[3], z[2], z[1])
	b.put(Width*k, l[0])
	for i, w := range p {
		b.put(Width*k+i+1, times(l[i+1], real(w), imag(w)))
	}
}

// quadrature replaces z = Z[k] and mirror = Z[M − k] by Z′·2/n there, given w/n.
func quadrature(z, mirror *complex128, w complex128) {
	conjugate := cmplx.Conj(*mirror)
	sum := times(*z+conjugate, real(w), -imag(w))
	difference := times(*z-conjugate, real(w), imag(w))
	*z = sum - difference
	*mirror = -cmplx.Conj(sum + difference)
}
