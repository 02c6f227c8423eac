package signal

import "phonocycle/pipeline/simd"

// Autocorrelator computes the autocorrelation of a sequence, mean removed, as
// the sums of products that it is: for the few hundred lags that rhythms take,
// they cost no more than transforms would.
type Autocorrelator struct {
	centred []float64
}

// NewAutocorrelator returns an Autocorrelator, which fits itself to the length of
// its input.
func NewAutocorrelator() *Autocorrelator { return &Autocorrelator{} }

// Biased writes r(0) … r(maxLag) to dst,
//
//	r(k) = Σ (x(i) − m)·(x(i+k) − m) / Σ (x(i) − m)²,
//
// m the mean of x. |r| ≤ 1 and r(0) = 1, or all zero where x is constant. Lags
// of len(x) and beyond are zero.
func (a *Autocorrelator) Biased(dst, x []float64, maxLag int) []float64 {
	dst = resize(dst, maxLag+1)
	clear(dst)
	mean, sd := MeanSD(x)
	if sd == 0 {
		return dst
	}
	a.centred = resize(a.centred, len(x))
	for i, v := range x {
		a.centred[i] = v - mean
	}
	power := simd.Dot(a.centred, a.centred)
	for k := 0; k <= maxLag && k < len(x); k++ {
		dst[k] = simd.Dot(a.centred[k:], a.centred) / power
	}
	return dst
}
