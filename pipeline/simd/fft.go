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

// nearest is the largest n whose four sequences and their copy, 128 bytes for each
// number, fit in a first-level cache of 32 or 48 KiB.
const nearest = 256

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
	if (eighth+1)&2 != 0 { // nearer to the imaginary axis
		sin, cos = cos, sin
	}
	if (eighth+2)&4 != 0 { // left of it
		cos = -cos
	}
	if eighth&4 == 0 { // below the real axis
		sin = -sin
	}
	return cos, sin
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

// radix4 is a pass of radix 4.
func radix4(dst, src Block, twiddles []float64, m, stride, apart, skip int) {
	if vector {
		radix4AVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], &twiddles[0], m, stride, apart, skip)
		return
	}
	from, at := 0, 0
	for p := range m {
		w := twiddles[6*p : 6*p+6]
		for range Width * stride {
			y := src.butterfly4(from, Width*m*stride)
			dst.put(at, y[0])
			for i := 1; i < 4; i++ {
				dst.put(at+i*Width*apart, times(y[i], w[2*i-2], w[2*i-1]))
			}
			from++
			at++
		}
		at += Width * skip
	}
}

//go:noescape
func radix4AVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, stride, apart, skip int)

// radix4HalfAVX2 is a first pass of radix 4 over sequences of 4m numbers of which the
// second half are zeros, which it does not read.
//
//go:noescape
func radix4HalfAVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, apart int)

// radix4Last is a last pass of radix 4.
func radix4Last(dst, src Block, stride int) {
	if vector {
		radix4LastAVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], stride)
		return
	}
	s := Width * stride
	for q := range s {
		for i, y := range src.butterfly4(q, s) {
			dst.put(q+i*s, y)
		}
	}
}

//go:noescape
func radix4LastAVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)

// butterfly4 returns the transform of the four numbers from at on that are apart from
// each other.
func (b Block) butterfly4(at, apart int) [4]complex128 {
	return fourier4(b.get(at), b.get(at+apart), b.get(at+2*apart), b.get(at+3*apart))
}

// fourier4 returns Σ_l (−j)^(lq)·a_l for q from 0 to 3.
func fourier4(a0, a1, a2, a3 complex128) [4]complex128 {
	even, evenLess := a0+a2, a0-a2
	odd, oddLess := a1+a3, a1-a3
	turned := complex(imag(oddLess), -real(oddLess)) // −j·oddLess
	return [4]complex128{even + odd, evenLess + turned, even - odd, evenLess - turned}
}

// radix2 is a pass of radix 2.
func radix2(dst, src Block, twiddles []float64, m, stride int) {
	s := Width * stride
	for p := range m {
		w := twiddles[2*p : 2*p+2]
		for q := range s {
			a, b := src.get(q+s*p), src.get(q+s*(p+m))
			dst.put(q+2*s*p, a+b)
			dst.put(q+s*(2*p+1), times(a-b, w[0], w[1]))
		}
	}
}

// sin60 is sin 60°.
const sin60 = 0.86602540378443864676372317075293618347140262690519031402790

// radix3Last is a pass of radix 3, the last. With t = b + c and u = b − c,
// the three numbers are a + t and a − t/2 ∓ j·sin60·u.
func radix3Last(dst, src Block, stride int) {
	if vector {
		radix3LastAVX2(&dst.Re[0], &dst.Im[0], &src.Re[0], &src.Im[0], stride)
		return
	}
	s := Width * stride
	for q := range s {
		a, b, c := src.get(q), src.get(q+s), src.get(q+2*s)
		t, u := b+c, b-c
		dst.put(q, a+t)
		re, im := math.FMA(-0.5, real(t), real(a)), math.FMA(-0.5, imag(t), imag(a))
		dst.put(q+s, complex(math.FMA(sin60, imag(u), re), math.FMA(-sin60, real(u), im)))
		dst.put(q+2*s, complex(math.FMA(-sin60, imag(u), re), math.FMA(sin60, real(u), im)))
	}
}

//go:noescape
func radix3LastAVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)

// times returns a·(re + j·im).
func times(a complex128, re, im float64) complex128 {
	return complex(math.FMA(real(a), re, -float64(imag(a)*im)), math.FMA(real(a), im, float64(imag(a)*re)))
}

func (b Block) get(i int) complex128 { return complex(b.Re[i], b.Im[i]) }

func (b Block) put(i int, a complex128) { b.Re[i], b.Im[i] = real(a), imag(a) }
