package simd

// nearest is the largest n whose four sequences and their copy, 128 bytes for each
// number, fit in a first-level cache of 32 or 48 KiB.
const nearest = 256

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
	half := f.quarter != nil && length <= f.n/2
	if half {
		x.clear(length, f.n/2)
	} else {
		x.clear(length, f.n)
	}
	if f.quarter == nil {
		realPowers(dst, spectrum{f.Transform(x, work.First(f.n)), 1, Width}, scale)
		return
	}
	m := f.n / 4
	apart := m + beside
	if half {
		radix4Half(work, x, f.passes[0].twiddles, m, apart)
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
func (z *spectrum) number(k, l int) number {
	return z.get(Width*(k%4*z.apart+k/4*z.step) + l)
}

// realPowersPortable writes the bins from from to before to.
func realPowersPortable(dst *[2 * Width][]float64, z *spectrum, scale *[2 * Width]float64, from, to int) {
	n := 2 * (len(dst[0]) - 1)
	for l := range Width {
		a, b := dst[l], dst[Width+l]
		quarterA, quarterB := 0.25*scale[l], 0.25*scale[Width+l]
		for k := from; k < to; k++ {
			z, w := z.number(k, l), z.number((n-k)%n, l)
			a[k] = quarterA * square(z.re+w.re, z.im-w.im)
			b[k] = quarterB * square(z.im+w.im, z.re-w.re)
		}
	}
}
