package signal

import (
	"math"

	"phonocycle/pipeline/lanes"
)

// hilbert is a plan of the Hilbert transform of a periodic sequence x of n real
// numbers, n divisible by 8.
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
// without X ever being written down. X[0] and X[M] become zero.
//
// Z itself is made of the transforms L of four sequences of K = M/4 points that
// lie side by side in z, and taken apart into them again:
//
//	Z[k + qK] = Σ_l (−j)^(lq) · e^(−2πj lk/M) · L_l[k].
type hilbert struct {
	n     int
	fft   *lanes.FFT
	turns []hilbertTurns // by k, to K/2
}

// hilbertTurns are the factors for one k.
type hilbertTurns struct {
	part [3]complex128 // e^(−2πj lk/M) for l = 1, 2, 3
	w    [4]complex128 // e^(−2πj (k + qK)/n) for q from 0 to 3
}

// hilbertLength returns the least length that is at least n and eight times a
// power of two, or three times one.
func hilbertLength(n int) int {
	length := 8
	for length < n {
		length *= 2
	}
	if three := length / 4 * 3; three >= n && three >= 24 {
		length = three
	}
	return length
}

func newHilbert(n int) *hilbert {
	h := &hilbert{n: n, fft: lanes.NewFFT(n / 8)}
	parts := n / 8
	turn := func(k int) complex128 {
		re, im := lanes.Turn(k, n)
		return complex(re, im)
	}
	h.turns = make([]hilbertTurns, parts/2+1)
	for k := range h.turns {
		t := &h.turns[k]
		for l := range t.part {
			t.part[l] = turn(2 * (l + 1) * k)
		}
		for q := range t.w {
			t.w[q] = turn(k + q*parts)
		}
	}
	return h
}

// transform returns the Hilbert transform of x, whose samples 2m and 2m + 1 are
// x.Re[m] and x.Im[m], in the memory of x or of work.
//
// The twiddle factors of K − k are those of k but for a conjugation and a shift
// by one of the sums, so that point q of k has its mirror image at point −q, mod 4,
// of the sums u of K − k.
func (h *hilbert) transform(x, work lanes.Block) lanes.Block {
	y := h.fft.Transform(x, work)
	if &y.Re[0] == &x.Re[0] {
		x = work
	}
	parts := h.n / 8
	for k := 1; 2*k < parts; k++ {
		t := &h.turns[k]
		p1, p2, p3 := t.part[0], t.part[1], t.part[2]
		c1, c2, c3 := conj(p1), conj(p2), conj(p3)
		a0, a1, a2, a3 := join(y, k, p1, p2, p3)
		u0, u1, u2, u3 := join(y, parts-k, c1, c2, c3)
		a0, u0 = quadrature(a0, u0, t.w[0])
		a1, u3 = quadrature(a1, u3, t.w[1])
		a2, u2 = quadrature(a2, u2, t.w[2])
		a3, u1 = quadrature(a3, u1, t.w[3])
		split(y, k, a0, a1, a2, a3, c1, c2, c3)
		split(y, parts-k, u0, u1, u2, u3, p1, p2, p3)
	}
	h.mirrored(y)
	scale := 1 / float64(h.n)
	y = h.fft.Transform(y.Swapped(), x).Swapped()
	for i := range y.Re {
		y.Re[i] *= scale
		y.Im[i] *= scale
	}
	return y
}

// mirrored does the k whose mirror image is k itself, 0 and K/2.
func (h *hilbert) mirrored(y lanes.Block) {
	t := &h.turns[0]
	_, a1, a2, a3 := join(y, 0, 1, 1, 1)
	a1, a3 = quadrature(a1, a3, t.w[1])
	a2 = complex(-2*imag(a2), 2*real(a2)) // w = −j
	split(y, 0, 0, a1, a2, a3, 1, 1, 1)
	if parts := h.n / 8; parts%2 == 0 {
		t, k := &h.turns[parts/2], parts/2
		p1, p2, p3 := t.part[0], t.part[1], t.part[2]
		a0, a1, a2, a3 := join(y, k, p1, p2, p3)
		a0, a3 = quadrature(a0, a3, t.w[0])
		a1, a2 = quadrature(a1, a2, t.w[1])
		split(y, k, a0, a1, a2, a3, conj(p1), conj(p2), conj(p3))
	}
}

// join returns the sums over l of (−j)^(lq)·p_l·L_l[k] for q from 0 to 3, with
// p_0 = 1.
func join(y lanes.Block, k int, p1, p2, p3 complex128) (z0, z1, z2, z3 complex128) {
	re, im := y.Re[lanes.Width*k:][:lanes.Width], y.Im[lanes.Width*k:][:lanes.Width]
	l0, l1 := complex(re[0], im[0]), times(complex(re[1], im[1]), p1)
	l2, l3 := times(complex(re[2], im[2]), p2), times(complex(re[3], im[3]), p3)
	even, evenLess, odd, oddLess := l0+l2, l0-l2, l1+l3, l1-l3
	turned := complex(imag(oddLess), -real(oddLess)) // times −j
	return even + odd, evenLess + turned, even - odd, evenLess - turned
}

// split undoes join but for a factor of four: p are the conjugates of its factors.
func split(y lanes.Block, k int, z0, z1, z2, z3, p1, p2, p3 complex128) {
	even, evenLess, odd, oddLess := z0+z2, z0-z2, z1+z3, z1-z3
	turned := complex(-imag(oddLess), real(oddLess)) // times j
	l1, l2, l3 := times(evenLess+turned, p1), times(even-odd, p2), times(evenLess-turned, p3)
	re, im := y.Re[lanes.Width*k:][:lanes.Width], y.Im[lanes.Width*k:][:lanes.Width]
	re[0], re[1], re[2], re[3] = real(even+odd), real(l1), real(l2), real(l3)
	im[0], im[1], im[2], im[3] = imag(even+odd), imag(l1), imag(l2), imag(l3)
}

// quadrature returns twice Z′[k] and Z′[M − k], given Z there and w.
func quadrature(z, mirror, w complex128) (complex128, complex128) {
	mirror = conj(mirror)
	sum, difference := times(z+mirror, conj(w)), times(z-mirror, w)
	return sum - difference, -conj(sum + difference)
}

func conj(z complex128) complex128 { return complex(real(z), -imag(z)) }

// times returns a·b with one rounding a part fewer, the same on every processor.
func times(a, b complex128) complex128 {
	return complex(
		math.FMA(real(a), real(b), -float64(imag(a)*imag(b))),
		math.FMA(real(a), imag(b), float64(imag(a)*real(b))),
	)
}
