package signal

import (
	"fmt"
	"math"

	"phonocycle/pipeline/simd"
)

// MelCepstrum computes mel-frequency cepstral coefficients of a spectrum
// (Davis and Mermelstein 1980, doi 10.1109/TASSP.1980.1163420).
//
// The filters are triangles whose F + 2 corners divide low to high into F + 1
// equal steps of the mel scale; each rises over hertz from one corner to the next and
// falls to the one after. The energy of a filter is the mean of the density,
// weighted by its triangle, and the coefficients are the orthonormal cosine
// transform of the natural logarithms of the energies. Energies more than
// 100 dB below the greatest are raised to that floor, so that all coefficients
// but the first are independent of gain; a factor g of amplitude adds
// 2 √F ln g to the first.
type MelCepstrum struct {
	step      float64
	triangles []triangle
	energy    []float64
	cosines   [][]float64 // of each coefficient
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
	if coefficients < 1 || coefficients > filters {
		panic(fmt.Sprintf("signal: %d cepstral coefficients of %d filters", coefficients, filters))
	}
	m := &MelCepstrum{
		step:      step,
		triangles: melBands(melEdges(low, high, filters), step),
		energy:    make([]float64, filters),
		cosines:   cosineTransform(filters, coefficients),
	}
	for i, t := range m.triangles {
		if len(t.weights) == 0 {
			panic(fmt.Sprintf("signal: no bin of %v Hz in mel filter %d of %d from %v to %v Hz", step, i, filters, low, high))
		}
	}
	return m
}

// cosineTransform returns the first m ≤ n rows of the orthonormal discrete cosine
// transform of type II of n values x,
//
//	c[k] = s[k] Σ x[i] cos(π k (2i+1) / 2n),  s[0] = √(1/n), s[k] = √(2/n)
//
// Source: Ahmed, Natarajan and Rao 1974, doi 10.1109/T-C.1974.223784.
func cosineTransform(n, m int) [][]float64 {
	rows := make([][]float64, m)
	for k := range rows {
		rows[k] = make([]float64, n)
		scale := math.Sqrt(2 / float64(n))
		if k == 0 {
			scale = math.Sqrt(1 / float64(n))
		}
		for i := range rows[k] {
			rows[k][i] = scale * math.Cos(math.Pi*float64(k)*float64(2*i+1)/float64(2*n))
		}
	}
	return rows
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
	_, greatest := simd.MinMax(m.energy)
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
	for k, row := range m.cosines {
		dst[k] = simd.Dot(row, m.energy)
	}
}
