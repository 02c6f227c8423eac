package signal

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// reflected is the least number of mirrored samples before and after a signal
// that is at least as long.
const reflected = 512

// Analytic computes the analytic signal x + j·H{x} of a whole recording,
// where H is the Hilbert transform: every positive frequency delayed by a
// quarter of its period (Gabor 1946, J IEE 93:429). Its magnitude is the
// envelope; that of a tone of amplitude A is A.
//
// The transform is taken in the frequency domain, which makes the signal
// periodic, so that its end would meet its beginning. Both ends are therefore
// first extended by their mirror images, at least 512 samples where the
// signal has as many, to a length of the form 2^a·3^b·5^c; the seam lies
// that far outside.
type Analytic struct {
	fft    *fourier.FFT
	signal []float64
	coeff  []complex128
}

// NewAnalytic returns a plan that fits itself to the length of its input.
func NewAnalytic() *Analytic { return &Analytic{fft: fourier.NewFFT(1)} }

// Quadrature writes H{x} to dst, which may be x.
func (a *Analytic) Quadrature(dst, x []float64) []float64 {
	before := a.transform(x)
	dst = resize(dst, len(x))
	copy(dst, a.signal[before:])
	return dst
}

// Envelope writes |x + j·H{x}| to dst, which may be x.
func (a *Analytic) Envelope(dst, x []float64) []float64 {
	before := a.transform(x)
	dst = resize(dst, len(x))
	for i, v := range x {
		q := a.signal[before+i]
		dst[i] = math.Sqrt(v*v + q*q)
	}
	return dst
}

// transform leaves H{x} in a.signal, after the returned number of samples.
func (a *Analytic) transform(x []float64) (before int) {
	n := len(x)
	if n == 0 {
		return 0
	}
	length := FastLength(n + 2*min(n, reflected))
	before = (length - n) / 2
	if a.fft.Len() != length {
		a.fft.Reset(length)
	}
	a.signal = resize(a.signal, length)
	for i := range a.signal {
		a.signal[i] = x[mirror(i-before, n)]
	}
	if cap(a.coeff) < length/2+1 {
		a.coeff = make([]complex128, length/2+1)
	}
	a.coeff = a.coeff[:length/2+1]
	a.fft.Coefficients(a.coeff, a.signal)
	a.coeff[0] = 0
	if length%2 == 0 {
		a.coeff[length/2] = 0
	}
	norm := 1 / float64(length)
	for k, c := range a.coeff {
		a.coeff[k] = complex(imag(c)*norm, -real(c)*norm) // times −j
	}
	a.fft.Sequence(a.signal, a.coeff)
	return before
}

// mirror maps an index outside [0, n) to the sample that it sees in mirrors
// standing at −1/2 and at n − 1/2.
func mirror(i, n int) int {
	i %= 2 * n
	if i < 0 {
		i += 2 * n
	}
	if i >= n {
		i = 2*n - 1 - i
	}
	return i
}
