package signal

import "gonum.org/v1/gonum/dsp/fourier"

// Autocorrelator computes the autocorrelation of a sequence, mean removed, by
// the Wiener–Khinchin theorem: the inverse transform of the power spectrum,
// of the sequence padded with zeros so that lags do not wrap around.
type Autocorrelator struct {
	fft    *fourier.FFT
	signal []float64
	coeff  []complex128
}

// NewAutocorrelator returns a plan that fits itself to the length of its
// input.
func NewAutocorrelator() *Autocorrelator { return &Autocorrelator{fft: fourier.NewFFT(1)} }

// Biased writes r(0) … r(maxLag) to dst,
//
//	r(k) = Σ (x(i) − m)·(x(i+k) − m) / Σ (x(i) − m)²,
//
// m the mean of x. |r| ≤ 1 and r(0) = 1, or all zero where x is constant. Lags
// of len(x) and beyond are zero.
func (a *Autocorrelator) Biased(dst, x []float64, maxLag int) []float64 {
	n := len(x)
	dst = resize(dst, maxLag+1)
	clear(dst)
	mean, sd := MeanSD(x)
	if sd == 0 {
		return dst
	}
	length := FastLength(n + min(maxLag, n) + 1)
	if a.fft.Len() != length {
		a.fft.Reset(length)
	}
	a.signal = resize(a.signal, length)
	clear(a.signal)
	for i, v := range x {
		a.signal[i] = v - mean
	}
	if cap(a.coeff) < length/2+1 {
		a.coeff = make([]complex128, length/2+1)
	}
	a.coeff = a.coeff[:length/2+1]
	a.fft.Coefficients(a.coeff, a.signal)
	for k, c := range a.coeff {
		a.coeff[k] = complex(real(c)*real(c)+imag(c)*imag(c), 0)
	}
	a.fft.Sequence(a.signal, a.coeff)
	power := a.signal[0]
	for k := 0; k <= maxLag && k < n; k++ {
		dst[k] = a.signal[k] / power
	}
	return dst
}

// Unbiased writes the same with each lag scaled by n/(n − k), the number of
// products that it has, so that the peaks of a periodic sequence do not fall
// with the lag. Values may exceed 1.
func (a *Autocorrelator) Unbiased(dst, x []float64, maxLag int) []float64 {
	dst = a.Biased(dst, x, maxLag)
	n := float64(len(x))
	for k := 1; k < len(dst) && k < len(x); k++ {
		dst[k] *= n / (n - float64(k))
	}
	return dst
}
