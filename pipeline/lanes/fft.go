package lanes

import (
	"fmt"
	"math"
)

// Block holds four sequences of complex numbers side by side: element i of the
// sequence l has its real part at Re[4i + l] and its imaginary part at Im[4i + l].
type Block struct{ Re, Im []float64 }

// NewBlock returns a Block of four sequences of n zeros.
func NewBlock(n int) Block {
	return Block{make([]float64, Width*n), make([]float64, Width*n)}
}

// First returns the first n elements of each sequence, in the memory of b.
func (b Block) First(n int) Block { return Block{b.Re[:Width*n], b.Im[:Width*n]} }

// Swapped returns b with real and imaginary parts exchanged. The transform of a
// swapped block, swapped, is n times the inverse transform.
func (b Block) Swapped() Block { return Block{b.Im, b.Re} }

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
	n      int
	passes []pass
}

// pass takes transforms of length numbers, stride of them in turn, apart into
// radix times as many of length/radix.
type pass struct {
	radix, length, stride int

	// turns holds, for each p below length/radix, the powers 1 to radix − 1 of
	// e^(−2πj p/length), real before imaginary part. A pass of radix 3 is the
	// last, in which they are 1, and has none.
	turns []float64
}

// NewFFT returns a plan for sequences of n numbers. It panics unless n is a
// power of two, or three times one.
func NewFFT(n int) *FFT {
	f := &FFT{n: n}
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
			panic(fmt.Sprintf("lanes: transform of %d numbers: want a power of two, or three times one", n))
		}
		p := pass{radix: radix, length: length, stride: stride}
		if radix != 3 {
			p.setTurns()
		}
		f.passes = append(f.passes, p)
		length, stride = length/radix, stride*radix
	}
	return f
}

func (p *pass) setTurns() {
	for i := range p.length / p.radix {
		for power := 1; power < p.radix; power++ {
			re, im := Turn(power*i, p.length)
			p.turns = append(p.turns, re, im)
		}
	}
}

// Turn returns the real and the imaginary part of e^(−2πj k/n), for k from 0 to
// n, from angles of an eighth of a turn at most, so that both are right to the
// last digit or nearly so.
func Turn(k, n int) (re, im float64) {
	// In eighths of a turn: 8k/n = eighth + rest/n.
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

// Transform returns the transforms of the four sequences in x, with work, as long
// as x, to work in. Which of the two then holds them depends on n; the other has
// been written over. Transform panics if one does not hold four sequences of n.
func (f *FFT) Transform(x, work Block) Block {
	for _, b := range []Block{x, work} {
		if len(b.Re) != Width*f.n || len(b.Im) != Width*f.n {
			panic("lanes: a block of another length than its transform")
		}
	}
	for i := range f.passes {
		f.passes[i].run(work, x)
		x, work = work, x
	}
	return x
}

func (p *pass) run(dst, src Block) {
	switch m := p.length / p.radix; p.radix {
	case 4:
		radix4(dst, src, p.turns, m, p.stride)
	case 2:
		radix2(dst, src, p.turns, m, p.stride)
	case 3:
		radix3(dst, src, p.stride)
	}
}

// radix4Portable is a pass of radix 4.
func radix4Portable(dst, src Block, turns []float64, m, stride int) {
	s := Width * stride
	for p := range m {
		w := turns[6*p : 6*p+6]
		for q := range s {
			from, to := q+s*p, q+4*s*p
			ar, ai := src.Re[from], src.Im[from]
			br, bi := src.Re[from+m*s], src.Im[from+m*s]
			cr, ci := src.Re[from+2*m*s], src.Im[from+2*m*s]
			dr, di := src.Re[from+3*m*s], src.Im[from+3*m*s]
			acr, aci, bdr, bdi := ar+cr, ai+ci, br+dr, bi+di
			ar, ai, br, bi = ar-cr, ai-ci, br-dr, bi-di
			dst.Re[to], dst.Im[to] = acr+bdr, aci+bdi
			dst.Re[to+s], dst.Im[to+s] = times(ar+bi, ai-br, w[0], w[1])
			dst.Re[to+2*s], dst.Im[to+2*s] = times(acr-bdr, aci-bdi, w[2], w[3])
			dst.Re[to+3*s], dst.Im[to+3*s] = times(ar-bi, ai+br, w[4], w[5])
		}
	}
}

// radix2Portable is a pass of radix 2.
func radix2Portable(dst, src Block, turns []float64, m, stride int) {
	s := Width * stride
	for p := range m {
		w := turns[2*p : 2*p+2]
		for q := range s {
			from, to := q+s*p, q+2*s*p
			ar, ai := src.Re[from], src.Im[from]
			br, bi := src.Re[from+m*s], src.Im[from+m*s]
			dst.Re[to], dst.Im[to] = ar+br, ai+bi
			dst.Re[to+s], dst.Im[to+s] = times(ar-br, ai-bi, w[0], w[1])
		}
	}
}

// sin60 is the sine of a sixth of a turn.
const sin60 = 0.86602540378443864676372317075293618347140262690519031402790

// radix3Portable is a pass of radix 3, the last. With t = b + c and u = b − c,
// the three numbers are a + t and a − t/2 ∓ j·sin60·u.
func radix3Portable(dst, src Block, stride int) {
	s := Width * stride
	for q := range s {
		ar, ai := src.Re[q], src.Im[q]
		br, bi := src.Re[q+s], src.Im[q+s]
		cr, ci := src.Re[q+2*s], src.Im[q+2*s]
		tr, ti, ur, ui := br+cr, bi+ci, br-cr, bi-ci
		dst.Re[q], dst.Im[q] = ar+tr, ai+ti
		ar, ai = math.FMA(-0.5, tr, ar), math.FMA(-0.5, ti, ai)
		dst.Re[q+s], dst.Im[q+s] = math.FMA(sin60, ui, ar), math.FMA(-sin60, ur, ai)
		dst.Re[q+2*s], dst.Im[q+2*s] = math.FMA(-sin60, ui, ar), math.FMA(sin60, ur, ai)
	}
}

// times returns the product of two complex numbers.
func times(ar, ai, br, bi float64) (re, im float64) {
	return math.FMA(ar, br, -float64(ai*bi)), math.FMA(ar, bi, float64(ai*br))
}

// square returns re² + im².
func square(re, im float64) float64 { return math.FMA(re, re, float64(im*im)) }
