package simd

import (
	"fmt"
	"math"
)

// Block holds four interleaved sequences of complex numbers: element i of the
// sequence l has its real part at Re[4i + l] and its imaginary part at Im[4i + l].
type Block struct{ Re, Im []float64 }

// NewBlock returns a Block of four sequences of n zeros.
func NewBlock(n int) Block {
	return Block{make([]float64, Width*n), make([]float64, Width*n)}
}

// First returns the first n elements of each sequence, in the memory of b.
func (b Block) First(n int) Block { return Block{b.Re[:Width*n], b.Im[:Width*n]} }

// swapped returns b with real and imaginary parts exchanged. The transform of a
// swapped block, swapped, is n times the inverse transform.
func (b Block) swapped() Block { return Block{b.Im, b.Re} }

// FFT is a plan of the discrete Fourier transforms of four sequences of n numbers,
//
//	X[k] = Σ x[i] e^(−2πj k i/n),
//
// for an n that is a power of two, or three times one. It divides n by 4 and, at
// last, by 2 or 3 (Cooley and Tukey 1965, doi 10.2307/2003354), in the order of
// Stockham, in which every pass reads and writes in sequence and nothing is left
// to be sorted (Van Loan 1992, doi 10.1137/1.9781611970999, from memory). Nothing
// changes an FFT: it may be used by several goroutines at once.
type FFT struct {
	n       int
	passes  []pass
	quarter *FFT // of n/4, where RealPowers makes use of it
}

// pass splits stride transforms of length numbers into radix times as many of
// length/radix.
type pass struct {
	radix, length, stride int

	// twiddles holds, for each p below length/radix, the powers 1 to radix − 1 of
	// e^(−2πj p/length), real before imaginary part. They are all 1 in a last
	// pass, which of radix 3 or 4 has none.
	twiddles []float64
}

// NewFFT returns a plan for sequences of n numbers. It panics unless n is a
// power of two, or three times one.
func NewFFT(n int) *FFT {
	f := &FFT{n: n}
	if n > nearest && n <= 4*nearest && n%8 == 0 {
		f.quarter = NewFFT(n / 4)
	}
	length, stride := n, 1
	for length != 1 {
		radix := 4
		switch {
		case length > 0 && length%4 == 0:
		case length > 0 && length%2 == 0:
			radix = 2
		case length == 3:
			radix = 3
		default:
			panic(fmt.Sprintf("simd: transform of %d numbers: want a power of two, or three times one", n))
		}
		f.passes = append(f.passes, newPass(radix, length, stride))
		length, stride = length/radix, stride*radix
	}
	return f
}

func newPass(radix, length, stride int) pass {
	p := pass{radix: radix, length: length, stride: stride}
	if length == radix && radix > 2 {
		return p
	}
	for i := range length / radix {
		for power := 1; power < radix; power++ {
			re, im := twiddle(power*i, length)
			p.twiddles = append(p.twiddles, re, im)
		}
	}
	return p
}

// twiddle returns the real and the imaginary part of e^(−2πj k/n) for k from 0 to n.
// It only computes angles of up to 45°, which keeps both accurate to about one unit
// in the last place.
func twiddle(k, n int) (re, im float64) {
	// In units of 45°: 8k/n = eighth + rest/n.
	eighth, rest := 8*k/n, 8*k%n
	if eighth%2 == 1 {
		rest = n - rest
	}
	sin, cos := math.Sincos(math.Pi / 4 * float64(rest) / float64(n))
	switch eighth & 7 {
	case 0:
		return cos, -sin
	case 1:
		return sin, -cos
	case 2:
		return -sin, -cos
	case 3:
		return -cos, -sin
	case 4:
		return -cos, sin
	case 5:
		return -sin, cos
	case 6:
		return sin, cos
	default:
		return cos, sin
	}
}

// Len returns n.
func (f *FFT) Len() int { return f.n }

// Transform returns the transforms of the four sequences in x, in the memory of x or
// of work, depending on n. The other is overwritten. Transform panics if one of them
// does not hold four sequences of n numbers.
func (f *FFT) Transform(x, work Block) Block {
	f.check(x, work)
	for i := range f.passes {
		p := &f.passes[i]
		p.run(work, x, p.stride, (p.radix-1)*p.stride)
		x, work = work, x
	}
	return x
}

func (f *FFT) check(blocks ...Block) {
	for _, b := range blocks {
		if len(b.Re) != Width*f.n || len(b.Im) != Width*f.n {
			panic("simd: a block of another length than its transform")
		}
	}
}

// run does a pass. The parts that it makes begin apart elements after one another in
// dst. After the numbers of each p it skips skip elements of dst.
func (p *pass) run(dst, src Block, apart, skip int) {
	switch m := p.length / p.radix; {
	case p.radix == 4 && p.twiddles == nil:
		radix4Last(dst, src, p.stride)
	case p.radix == 4:
		radix4(dst, src, p.twiddles, m, p.stride, apart, skip)
	case p.radix == 2:
		radix2(dst, src, p.twiddles, m, p.stride)
	default:
		radix3Last(dst, src, p.stride)
	}
}

// radix4Portable is a pass of radix 4.
func radix4Portable(dst, src Block, twiddles []float64, m, stride, apart, skip int) {
	from, at := 0, 0
	for p := range m {
		w := twiddles[6*p : 6*p+6]
		for range Width * stride {
			y0, y1, y2, y3 := butterfly4(src, from, Width*m*stride)
			dst.put(at, y0)
			dst.put(at+Width*apart, y1.times(w[0], w[1]))
			dst.put(at+2*Width*apart, y2.times(w[2], w[3]))
			dst.put(at+3*Width*apart, y3.times(w[4], w[5]))
			from++
			at++
		}
		at += Width * skip
	}
}

// radix4HalfPortable is a first pass of radix 4 over sequences of 4m numbers of which
// the second half are zeros.
func radix4HalfPortable(dst, src Block, twiddles []float64, m, apart int) {
	for p := range m {
		w := twiddles[6*p : 6*p+6]
		for at := Width * p; at < Width*(p+1); at++ {
			a, b := src.get(at), src.get(at+Width*m)
			dst.put(at, number{a.re + b.re, a.im + b.im})
			dst.put(at+Width*apart, number{a.re + b.im, a.im - b.re}.times(w[0], w[1]))
			dst.put(at+2*Width*apart, number{a.re - b.re, a.im - b.im}.times(w[2], w[3]))
			dst.put(at+3*Width*apart, number{a.re - b.im, a.im + b.re}.times(w[4], w[5]))
		}
	}
}

// radix4LastPortable is a last pass of radix 4.
func radix4LastPortable(dst, src Block, stride int) {
	s := Width * stride
	for q := range s {
		y0, y1, y2, y3 := butterfly4(src, q, s)
		dst.put(q, y0)
		dst.put(q+s, y1)
		dst.put(q+2*s, y2)
		dst.put(q+3*s, y3)
	}
}

// butterfly4 returns the transform of the four numbers of src from at on that are
// apart from each other.
func butterfly4(src Block, at, apart int) (y0, y1, y2, y3 number) {
	a, b, c, d := src.get(at), src.get(at+apart), src.get(at+2*apart), src.get(at+3*apart)
	ac, bd := number{a.re + c.re, a.im + c.im}, number{b.re + d.re, b.im + d.im}
	a, b = number{a.re - c.re, a.im - c.im}, number{b.re - d.re, b.im - d.im}
	return number{ac.re + bd.re, ac.im + bd.im}, number{a.re + b.im, a.im - b.re},
		number{ac.re - bd.re, ac.im - bd.im}, number{a.re - b.im, a.im + b.re}
}

// radix2 is a pass of radix 2.
func radix2(dst, src Block, twiddles []float64, m, stride int) {
	s := Width * stride
	for p := range m {
		w := twiddles[2*p : 2*p+2]
		for q := range s {
			a, b := src.get(q+s*p), src.get(q+s*(p+m))
			dst.put(q+2*s*p, number{a.re + b.re, a.im + b.im})
			dst.put(q+s*(2*p+1), number{a.re - b.re, a.im - b.im}.times(w[0], w[1]))
		}
	}
}

// sin60 is sin 60°.
const sin60 = 0.86602540378443864676372317075293618347140262690519031402790

// radix3Last is a pass of radix 3, the last. With t = b + c and u = b − c,
// the three numbers are a + t and a − t/2 ∓ j·sin60·u.
func radix3Last(dst, src Block, stride int) {
	s := Width * stride
	for q := range s {
		a, b, c := src.get(q), src.get(q+s), src.get(q+2*s)
		t, u := number{b.re + c.re, b.im + c.im}, number{b.re - c.re, b.im - c.im}
		dst.put(q, number{a.re + t.re, a.im + t.im})
		a = number{math.FMA(-0.5, t.re, a.re), math.FMA(-0.5, t.im, a.im)}
		dst.put(q+s, number{math.FMA(sin60, u.im, a.re), math.FMA(-sin60, u.re, a.im)})
		dst.put(q+2*s, number{math.FMA(-sin60, u.im, a.re), math.FMA(sin60, u.re, a.im)})
	}
}

// number is a complex number.
type number struct{ re, im float64 }

// times returns n·(re + j·im).
func (n number) times(re, im float64) number {
	return number{math.FMA(n.re, re, -float64(n.im*im)), math.FMA(n.re, im, float64(n.im*re))}
}

func (b Block) get(i int) number { return number{b.Re[i], b.Im[i]} }

func (b Block) put(i int, n number) { b.Re[i], b.Im[i] = n.re, n.im }

// square returns re² + im².
func square(re, im float64) float64 { return math.FMA(re, re, float64(im*im)) }
