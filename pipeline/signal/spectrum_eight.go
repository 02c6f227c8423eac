package signal

import "phonocycle/pipeline/simd"

// eight takes the power spectra of up to eight stretches of signal of up to n
// samples in one transform: four as the real and four as the imaginary parts of
// sequences that lie side by side.
type eight struct {
	fft      *simd.FFT
	in, work simd.Block
	rows     [batch][]float64 // the stretches, weighed, in the memory of store
	store    [batch][]float64
	scale    [batch]float64
	power    [batch][]float64 // where the powers of the transform under way go
	spare    [batch][]float64 // powers that are not read
}

const batch = 2 * simd.Width

// newEight returns a plan of n points, a power of two, or three times one, and
// even.
func newEight(n int) eight {
	e := eight{fft: simd.NewFFT(n), in: simd.NewBlock(n)}
	e.work = e.fft.NewWork()
	for s := range batch {
		e.store[s] = make([]float64, n)
		e.spare[s] = make([]float64, n/2+1)
	}
	e.begin()
	return e
}

// begin makes all eight stretches empty and their powers unwanted.
func (e *eight) begin() {
	for s := range batch {
		e.rows[s], e.power[s], e.scale[s] = e.store[s][:0], e.spare[s], 0
	}
}

// transform writes scale·|X[k]|² of each stretch for 0 ≤ k ≤ n/2 to its power and
// begins anew.
func (e *eight) transform() {
	longest := 0
	for _, r := range e.rows {
		longest = max(longest, len(r))
	}
	lay(e.in.Re, e.rows[:simd.Width], longest)
	lay(e.in.Im, e.rows[simd.Width:], longest)
	e.fft.RealPowers(&e.power, e.in, e.work, longest, &e.scale)
	e.begin()
}

// lay lays four stretches side by side, with zeros behind each up to the given
// length.
func lay(dst []float64, rows [][]float64, length int) {
	var even [simd.Width][]float64
	for l, r := range rows {
		even[l] = r[:length]
		clear(even[l][len(r):])
	}
	simd.Interleave(dst, &even)
}
