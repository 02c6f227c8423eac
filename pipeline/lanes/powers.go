package lanes

// RealPowers writes the squared magnitudes of the transforms of eight real
// sequences of n numbers, an even n, taken at once: z is the transform of a Block
// with four of them as its real and four as its imaginary parts. dst[s][k]
// becomes scale[s]·|X_s[k]|² for 0 ≤ k ≤ n/2, with s from 0 to 3 for the real
// and from 4 to 7 for the imaginary parts.
//
// The transform of a + j·b for real a and b is Z = A + j·B, in which A[n − k] is
// the conjugate of A[k] and likewise for B, so that
//
//	2A[k] = Z[k] + Z[n − k]*,  2j·B[k] = Z[k] − Z[n − k]*.
//
// It panics if a sequence of dst does not hold n/2 + 1 numbers.
func RealPowers(dst *[2 * Width][]float64, z Block, scale *[2 * Width]float64) {
	n := len(z.Re) / Width
	for s := range dst {
		dst[s] = dst[s][:n/2+1]
	}
	for l := range Width {
		for _, k := range []int{0, n / 2} { // where Z[k] and Z[n − k] are one
			a, b := z.Re[Width*k+l], z.Im[Width*k+l]
			dst[l][k] = scale[l] * float64(a*a)
			dst[Width+l][k] = scale[Width+l] * float64(b*b)
		}
	}
	realPowers(dst, z, scale)
}

// realPowersPortable writes the bins from from to before to, none of which is 0
// or n/2.
func realPowersPortable(dst *[2 * Width][]float64, z Block, scale *[2 * Width]float64, from, to int) {
	n := len(z.Re) / Width
	for l := range Width {
		a, b := dst[l], dst[Width+l]
		quarterA, quarterB := 0.25*scale[l], 0.25*scale[Width+l]
		for k := from; k < to; k++ {
			zr, zi := z.Re[Width*k+l], z.Im[Width*k+l]
			wr, wi := z.Re[Width*(n-k)+l], z.Im[Width*(n-k)+l]
			ar, ai, br, bi := zr+wr, zi-wi, zi+wi, zr-wr
			a[k] = quarterA * square(ar, ai)
			b[k] = quarterB * square(br, bi)
		}
	}
}
