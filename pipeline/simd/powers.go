package simd

import (
	"math"
	"math/cmplx"
)

// RealPowers writes the squared magnitudes of the transforms of eight real
// sequences of n numbers, an even n, taken at once: four are the real and four
// the imaginary parts of x. dst[s][k] becomes scale[s]·|X_s[k]|² for
// 0 ≤ k ≤ n/2, with s from 0 to 3 for the real and from 4 to 7 for the imaginary
// parts. Only the first length numbers of each sequence are read; the rest
// count as zeros. x and work, a block of NewWork, are overwritten.
//
// The transform of a + j·b for real a and b is Z = A + j·B, in which A[n − k] is
// the conjugate of A[k] and likewise for B, so that
//
//	2A[k] = Z[k] + Z[n − k]*,  2j·B[k] = Z[k] − Z[n − k]*.
//
// If the sequences are a few times too long for the first-level cache, they are
// first split into quarters, of which the r-th becomes the numbers Z[4i + r], and
// each quarter is transformed by itself.
//
// RealPowers panics if a sequence of dst does not hold n/2 + 1 numbers or a block
// is not of length n.
func (f *FFT) RealPowers(dst *[2 * Width][]float64, x, work Block, length int, scale *[2 * Width]float64) {
	f.check(x)
	if len(work.Re) < Width*f.workLength() || len(work.Im) < Width*f.workLength() {
		panic("simd: a block to work in that is too short for its transform")
	}
	for s := range dst {
		dst[s] = dst[s][:f.n/2+1]
	}
	half := vector && f.quarter != nil && length <= f.n/2
	end := f.n
	if half {
		end /= 2
	}
	x.clear(length, end)
	if f.quarter == nil {
		realPowers(dst, spectrum{f.Transform(x, work.First(f.n)), 1, Width}, scale)
		return
	}
	m := f.n / 4
	apart := m + beside
	if vector && half {
		radix4HalfAVX2(&work.Re[0], &work.Im[0], &x.Re[0], &x.Im[0], &f.passes[0].twiddles[0], m, apart)
	} else {
		f.passes[0].run(work, x, apart, 0)
	}
	z := spectrum{work, apart, 1}
	for r := range 4 {
		part := work.part(r*apart, m)
		if y := f.quarter.Transform(part, x.part(r*m, m)); &y.Re[0] != &part.Re[0] {
			z = spectrum{x, m, 1}
		}
	}
	realPowers(dst, z, scale)
}

// beside is the number of unused elements between quarters. Without them the quarters
// would lie a power of two apart and compete for the same places in a cache.
const beside = 8

// NewWork returns a block for RealPowers to work in.
func (f *FFT) NewWork() Block { return NewBlock(f.workLength()) }

func (f *FFT) workLength() int {
	if f.quarter == nil {
		return f.n
	}
	return f.n + 3*beside
}

// clear makes the elements from from to before to zero.
func (b Block) clear(from, to int) {
	clear(b.Re[Width*from : Width*to])
	clear(b.Im[Width*from : Width*to])
}

// part returns n elements of b from from on.
func (b Block) part(from, n int) Block {
	return Block{b.Re[Width*from : Width*(from+n)], b.Im[Width*from : Width*(from+n)]}
}

// spectrum is a transform of which the number 4i + r is the element
// r·apart + i·step.
type spectrum struct {
	Block
	apart, step int
}

// number returns number k of sequence l.
func (z *spectrum) number(k, l int) complex128 {
	return z.get(Width*(k%4*z.apart+k/4*z.step) + l)
}

// realPowers writes the powers of the transform z.
func realPowers(dst *[2 * Width][]float64, z spectrum, scale *[2 * Width]float64) {
	n := 2 * (len(dst[0]) - 1)
	groups := n/8 - 1 // of the bins from 4 to n/2 − 1
	if !vector || groups <= 0 || n%8 != 0 {
		z.powers(dst, scale, 0, n/2+1)
		return
	}
	var to [2 * Width]*float64
	for s := range to {
		to[s] = &dst[s][4]
	}
	realPowersAVX2(&to, &z.Re[0], &z.Im[0], scale, n, groups, z.apart, z.step)
	z.powers(dst, scale, 0, 4)
	z.powers(dst, scale, n/2, n/2+1)
}

// powers writes the bins from from to before to.
func (z *spectrum) powers(dst *[2 * Width][]float64, scale *[2 * Width]float64, from, to int) {
	n := 2 * (len(dst[0]) - 1)
	for l := range Width {
		a, b := dst[l], dst[Width+l]
		quarterA, quarterB := 0.25*scale[l], 0.25*scale[Width+l]
		for k := from; k < to; k++ {
			z, mirror := z.number(k, l), cmplx.Conj(z.number((n-k)%n, l))
			a[k] = quarterA * square(z+mirror)
			b[k] = quarterB * square(complex(imag(z-mirror), real(z-mirror)))
		}
	}
}

// square returns |a|².
func square(a complex128) float64 { return math.FMA(real(a), real(a), float64(imag(a)*imag(a))) }

// realPowersAVX2 writes as many groups of four bins of each sequence, from bin 4 on,
// of a spectrum with apart and step.
//
//go:noescape
func realPowersAVX2(dst *[8]*float64, re, im *float64, scale *[8]float64, n, groups, apart, step int)
