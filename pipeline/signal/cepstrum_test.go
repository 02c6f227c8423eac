package signal

import (
	"math"
	"testing"

	"phonocycle/pipeline/simd"
)

func transform(rows [][]float64, x []float64) []float64 {
	c := make([]float64, len(rows))
	for k, row := range rows {
		c[k] = simd.Dot(row, x)
	}
	return c
}

func TestCosineTransformAgainstSciPy(t *testing.T) {
	ref := loadSpectra(t)
	got := transform(cosineTransform(20, 20), ref.X[:20])
	checkClose(t, "DCT-II", got, ref.DCT, 1e-14)
	checkClose(t, "first 13", transform(cosineTransform(20, 13), ref.X[:20]), got[:13], 0)
}

// The transform is orthonormal: it keeps the sum of squares.
func TestCosineTransformKeepsEnergy(t *testing.T) {
	x := noise(33, 5)
	c := transform(cosineTransform(33, 33), x)
	var before, after float64
	for i := range x {
		before += x[i] * x[i]
		after += c[i] * c[i]
	}
	if math.Abs(before-after) > 1e-12*before {
		t.Errorf("sum of squares %v becomes %v", before, after)
	}
}

// A flat spectrum of density d has the cepstrum (√F ln d, 0, 0, …).
func TestCepstrumOfFlatSpectrum(t *testing.T) {
	const filters, d = 20, 7e-5
	m := NewMelCepstrum(filters, 13, 25, 400, 1)
	got := make([]float64, 13)
	m.Transform(got, ofDensity(1, 501, func(float64) float64 { return d }))
	want := make([]float64, 13)
	want[0] = math.Sqrt(filters) * math.Log(d)
	checkClose(t, "flat", got, want, 1e-12)
}

// A factor g of amplitude adds 2 √F ln g to the first coefficient alone, also
// where energies lie on the floor; a band of a spectrum gives what the whole
// gives.
func TestCepstrumAndGain(t *testing.T) {
	const g = 1e-3
	m := NewMelCepstrum(20, 13, 25, 400, 1)
	s := ofDensity(1, 501, func(f float64) float64 {
		if f > 300 {
			return 0
		}
		return math.Exp(-f / 40)
	})
	quiet := ofDensity(1, 501, func(f float64) float64 { return g * g * s.Density[int(f)] })
	a, b, c := make([]float64, 13), make([]float64, 13), make([]float64, 13)
	m.Transform(a, s)
	m.Transform(b, quiet)
	m.Transform(c, s.Band(25, 400))
	checkClose(t, "band", c, a, 0)
	a[0] += 2 * math.Sqrt(20) * math.Log(g)
	checkClose(t, "gain", b, a, 1e-9)
}

func TestCepstrumOfSilence(t *testing.T) {
	m := NewMelCepstrum(20, 13, 25, 400, 1)
	c := make([]float64, 13)
	m.Transform(c, ofDensity(1, 501, func(float64) float64 { return 0 }))
	for k, v := range c {
		if !math.IsNaN(v) {
			t.Errorf("coefficient %d is %v, want NaN", k, v)
		}
	}
}
