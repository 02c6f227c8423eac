package signal

import (
	"fmt"
	"math"

	"phonocycle/pipeline/simd"
)

// CosineTransform is the orthonormal discrete cosine transform of type II of n
// values, cut to its first m coefficients:
//
//	c[k] = s[k] Σ x[i] cos(π k (2i+1) / 2n),  s[0] = √(1/n), s[k] = √(2/n)
//
// Source: Ahmed, Natarajan and Rao 1974, doi 10.1109/T-C.1974.223784.
type CosineTransform struct {
	n    int
	rows [][]float64
}

// NewCosineTransform returns the transform of n values to m ≤ n coefficients.
// It panics unless 1 ≤ m ≤ n.
func NewCosineTransform(n, m int) *CosineTransform {
	if m < 1 || m > n {
		panic(fmt.Sprintf("signal: %d cosine coefficients of %d values", m, n))
	}
	t := &CosineTransform{n: n, rows: make([][]float64, m)}
	for k := range t.rows {
		row := make([]float64, n)
		scale := math.Sqrt(2 / float64(n))
		if k == 0 {
			scale = math.Sqrt(1 / float64(n))
		}
		for i := range row {
			row[i] = scale * math.Cos(math.Pi*float64(k)*float64(2*i+1)/float64(2*n))
		}
		t.rows[k] = row
	}
	return t
}

// Transform writes the coefficients of x to dst. It panics if the lengths are
// not those of the transform.
func (t *CosineTransform) Transform(dst, x []float64) {
	if len(x) != t.n || len(dst) != len(t.rows) {
		panic(fmt.Sprintf("signal: cosine transform of %d values to %d coefficients, planned for %d and %d", len(x), len(dst), t.n, len(t.rows)))
	}
	for k, row := range t.rows {
		dst[k] = simd.Dot(row, x)
	}
}

// MelCepstrum computes mel-frequency cepstral coefficients of a spectrum
// (Davis and Mermelstein 1980, doi 10.1109/TASSP.1980.1163420).
//
// The filters are triangles whose F + 2 corners divide low to high into F + 1
// equal steps of [Mel]; each rises over hertz from one corner to the next and
// falls to the one after. The energy of a filter is the mean of the density,
// weighted by its triangle, and the coefficients are the orthonormal cosine
// transform of the natural logarithms of the energies. Energies more than
// 100 dB below the greatest are raised to that floor, so that all coefficients
// but the first are independent of gain; a factor g of amplitude adds
// 2 √F ln g to the first.
type MelCepstrum struct {
	step      float64
	triangles []melFilter
	energy    []float64
	dct       *CosineTransform
}

// melFilter is one triangle: weights, summing to 1, of the bins from first on.
type melFilter struct {
	first   int
	weights []float64
}

// The floor of a filter's energy over the greatest one: −100 dB.
const cepstralFloor = 1e-10

// NewMelCepstrum returns the plan for the given number of filters from low to
// high hertz and of coefficients, counting the first, of spectra with bins
// step hertz apart. It panics unless 0 ≤ low < high, 1 ≤ coefficients ≤
// filters and every triangle holds a bin.
func NewMelCepstrum(filters, coefficients int, low, high, step float64) *MelCepstrum {
	if !(0 <= low && low < high && step > 0) {
		panic(fmt.Sprintf("signal: mel filters from %v to %v Hz over bins of %v Hz", low, high, step))
	}
	m := &MelCepstrum{
		step:   step,
		energy: make([]float64, filters),
		dct:    NewCosineTransform(filters, coefficients),
	}
	from, to := Mel(low), Mel(high)
	corner := func(i int) float64 {
		return MelToHertz(from + (to-from)*float64(i)/float64(filters+1))
	}
	for i := range filters {
		m.triangles = append(m.triangles, newMelFilter(corner(i), corner(i+1), corner(i+2), step))
	}
	return m
}

// newMelFilter samples a triangle with feet at left and right hertz.
func newMelFilter(left, centre, right, step float64) melFilter {
	t := melFilter{first: int(left/step) + 1}
	var sum float64
	for k := t.first; float64(k)*step < right; k++ {
		f := float64(k) * step
		w := (f - left) / (centre - left)
		if f > centre {
			w = (right - f) / (right - centre)
		}
		t.weights = append(t.weights, w)
		sum += w
	}
	if len(t.weights) == 0 {
		panic(fmt.Sprintf("signal: no bin of %v Hz in the mel filter around %.1f Hz", step, centre))
	}
	for i := range t.weights {
		t.weights[i] /= sum
	}
	return t
}

// Transform writes the coefficients of s to dst, all NaN if no filter receives
// any power. It panics if the bins of s do not hold those of the filters or
// dst is not as long as the number of coefficients.
func (m *MelCepstrum) Transform(dst []float64, s Spectrum) {
	if s.Step != m.step {
		panic(fmt.Sprintf("signal: cepstrum of bins of %v Hz, planned for %v Hz", s.Step, m.step))
	}
	for i, t := range m.triangles {
		m.energy[i] = simd.Dot(t.weights, s.Density[t.first-s.First:])
	}
	_, greatest := simd.Limits(m.energy)
	if !(greatest > 0) {
		for k := range dst {
			dst[k] = math.NaN()
		}
		return
	}
	for i, e := range m.energy {
		if e < cepstralFloor*greatest {
			m.energy[i] = cepstralFloor * greatest
		}
	}
	simd.Log(m.energy, m.energy)
	m.dct.Transform(dst, m.energy)
}
