package simd

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
type hilbertTwiddles [7]number

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
			at[2*Width*i], at[2*Width*i+Width] = w.re, w.im
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
		t[l].re, t[l].im = twiddle(2*(l+1)*k, h.n)
	}
	for q := range 4 {
		re, im := twiddle(k+q*h.n/8, h.n)
		t[3+q] = number{re / float64(h.n), im / float64(h.n)}
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
	hilbert(h, y)
	return h.fft.Transform(y.swapped(), x).swapped()
}

// hilbertPortable does the k from from to (K − 1)/2, each with K − k.
//
// The factors of K − k are those of k but for a conjugation and a shift by one of
// the sums, so that point q of k has its mirror image at point −q, mod 4, of the
// sums u of K − k.
func hilbertPortable(h *Hilbert, y Block, from int) {
	parts := h.n / 8
	for k := from; 2*k < parts; k++ {
		var t hilbertTwiddles
		at := h.twiddles[h.place(k):]
		for i := range t {
			t[i] = number{at[2*Width*i], at[2*Width*i+Width]}
		}
		p, c := [3]number{t[0], t[1], t[2]}, [3]number{t[0].conj(), t[1].conj(), t[2].conj()}
		z, u := y.join(k, p), y.join(parts-k, c)
		for q := range 4 {
			quadrature(&z[q], &u[-q&3], t[3+q])
		}
		y.split(k, z, c)
		y.split(parts-k, u, p)
	}
}

// selfMirrored handles k = 0 and k = K/2, which are their own mirror images.
func (h *Hilbert) selfMirrored(y Block) {
	one := [3]number{{1, 0}, {1, 0}, {1, 0}}
	first := h.twiddlesOf(0)
	z := y.join(0, one)
	z[0] = number{}
	quadrature(&z[1], &z[3], first[3+1])
	quadrature(&z[2], &number{z[2].re, z[2].im}, first[3+2])
	y.split(0, z, one)
	if parts := h.n / 8; parts%2 == 0 {
		t := h.middle
		z := y.join(parts/2, [3]number{t[0], t[1], t[2]})
		quadrature(&z[0], &z[3], t[3])
		quadrature(&z[1], &z[2], t[4])
		y.split(parts/2, z, [3]number{t[0].conj(), t[1].conj(), t[2].conj()})
	}
}

// join returns the sums over l of (−j)^(lq)·p_l·L_l[k] for q from 0 to 3, with
// p_0 = 1.
func (b Block) join(k int, p [3]number) [4]number {
	l0, l1, l2, l3 := b.get(Width*k), b.get(Width*k+1), b.get(Width*k+2), b.get(Width*k+3)
	l1, l2, l3 = l1.times(p[0].re, p[0].im), l2.times(p[1].re, p[1].im), l3.times(p[2].re, p[2].im)
	even, evenLess := number{l0.re + l2.re, l0.im + l2.im}, number{l0.re - l2.re, l0.im - l2.im}
	odd, oddLess := number{l1.re + l3.re, l1.im + l3.im}, number{l1.re - l3.re, l1.im - l3.im}
	return [4]number{
		{even.re + odd.re, even.im + odd.im},
		{evenLess.re + oddLess.im, evenLess.im - oddLess.re},
		{even.re - odd.re, even.im - odd.im},
		{evenLess.re - oddLess.im, evenLess.im + oddLess.re},
	}
}

// split undoes join but for a factor of four: p are the conjugates of its factors.
func (b Block) split(k int, z [4]number, p [3]number) {
	even, evenLess := number{z[0].re + z[2].re, z[0].im + z[2].im}, number{z[0].re - z[2].re, z[0].im - z[2].im}
	odd, oddLess := number{z[1].re + z[3].re, z[1].im + z[3].im}, number{z[1].re - z[3].re, z[1].im - z[3].im}
	b.put(Width*k, number{even.re + odd.re, even.im + odd.im})
	b.put(Width*k+1, number{evenLess.re - oddLess.im, evenLess.im + oddLess.re}.times(p[0].re, p[0].im))
	b.put(Width*k+2, number{even.re - odd.re, even.im - odd.im}.times(p[1].re, p[1].im))
	b.put(Width*k+3, number{evenLess.re + oddLess.im, evenLess.im - oddLess.re}.times(p[2].re, p[2].im))
}

// quadrature replaces z = Z[k] and mirror = Z[M − k] by Z′·2/n there, given w/n.
func quadrature(z, mirror *number, w number) {
	sum := number{z.re + mirror.re, z.im - mirror.im}.times(w.re, -w.im)
	difference := number{z.re - mirror.re, z.im + mirror.im}.times(w.re, w.im)
	*z = number{sum.re - difference.re, sum.im - difference.im}
	*mirror = number{-(sum.re + difference.re), sum.im + difference.im}
}

func (n number) conj() number { return number{n.re, -n.im} }
