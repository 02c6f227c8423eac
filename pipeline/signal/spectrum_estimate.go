package signal

import (
	"fmt"
	"math"

	"github.com/mjibson/go-dsp/window"
	"gonum.org/v1/gonum/dsp/fourier"
)

// Periodogram estimates the spectrum of one short stretch of signal of any
// length on a fixed grid of frequencies.
//
// The stretch x[0..L) is freed of its mean, weighted with the periodic Hann
// window w[i] = (1 − cos(2πi/L))/2 and transformed:
//
//	P[k] = c |Σ w[i] x[i] exp(−2πj k i/N)|² / (fs Σ w[i]²)
//
// with c = 2, and c = 1 at 0 Hz and at half the sampling rate. The grid of
// N/2 + 1 frequencies k fs/N is the same for every L, so that densities of
// different stretches can be compared bin by bin: a stretch shorter than N is
// padded with zeros, a longer one is folded, x[i] added to x[i mod N], which
// gives the transform of the whole stretch at those same frequencies.
//
// Padding does not sharpen anything: two lines closer than about 2/T hertz
// melt into one in a stretch of T seconds.
//
// A Periodogram holds a plan and buffers; it is not for concurrent use.
type Periodogram struct {
	fft    *fourier.FFT
	folded []float64
	coef   []complex128
	win    []float64
	square float64 // Σ w²

	windows map[int]hannWindow // those met that are no longer than the transform
	long    []float64          // the last one that was
}

// hannWindow is a window and Σ w².
type hannWindow struct {
	weights []float64
	square  float64
}

// NewPeriodogram returns a Periodogram with the grid of an n-point transform.
// It panics if n < 2 or n is odd.
func NewPeriodogram(n int) *Periodogram {
	if n < 2 || n%2 != 0 {
		panic(fmt.Sprintf("signal: periodogram of %d points: want an even number of at least 2", n))
	}
	return &Periodogram{
		fft:     fourier.NewFFT(n),
		folded:  make([]float64, n),
		coef:    make([]complex128, n/2+1),
		windows: make(map[int]hannWindow),
	}
}

// Estimate returns the spectrum of x, sampled at fs hertz, in the densities of
// dst where they are large enough. An x of fewer than two samples has no
// power.
func (p *Periodogram) Estimate(dst Spectrum, x []float64, fs float64) Spectrum {
	dst = p.empty(dst, fs)
	p.setHann(len(x))
	p.add(dst, x, fs)
	return dst
}

// empty returns the spectrum without power on the grid of p.
func (p *Periodogram) empty(dst Spectrum, fs float64) Spectrum {
	dst.Density = resize(dst.Density, len(p.coef))
	clear(dst.Density)
	return Spectrum{Step: fs / float64(len(p.folded)), Density: dst.Density}
}

// setHann sets the window for stretches of n samples. It is computed here and
// not taken from a package because n changes with every stretch, and kept because
// the lengths of states recur.
func (p *Periodogram) setHann(n int) {
	if w, ok := p.windows[n]; ok {
		p.win, p.square = w.weights, w.square
		return
	}
	if n > len(p.folded) {
		p.long = resize(p.long, n)
		p.win = p.long
	} else {
		p.win = make([]float64, n)
	}
	p.square = 0
	for i := range p.win {
		w := (1 - math.Cos(2*math.Pi*float64(i)/float64(n))) / 2
		p.win[i] = w
		p.square += w * w
	}
	if n <= len(p.folded) {
		p.windows[n] = hannWindow{p.win, p.square}
	}
}

// add adds the periodogram of x, as long as the window, to dst.
func (p *Periodogram) add(dst Spectrum, x []float64, fs float64) {
	if !(p.square > 0) {
		return
	}
	var mean float64
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))

	n := len(p.folded)
	clear(p.folded)
	for from := 0; from < len(x); from += n {
		to := min(from+n, len(x))
		for i, v := range x[from:to] {
			p.folded[i] += p.win[from+i] * (v - mean)
		}
	}
	p.fft.Coefficients(p.coef, p.folded)

	last := len(p.coef) - 1
	scale := 2 / (fs * p.square)
	for k, c := range p.coef {
		d := (real(c)*real(c) + imag(c)*imag(c)) * scale
		if k == 0 || k == last {
			d /= 2
		}
		dst.Density[k] += d
	}
}

// Welch estimates the spectrum of a long signal as the mean of the
// periodograms of overlapping segments of equal length, each freed of its mean
// and weighted with the periodic Hann window; samples after the last whole
// segment are not used. Source: Welch 1967, doi 10.1109/TAU.1967.1161901.
//
// A Welch holds a plan and buffers; it is not for concurrent use.
type Welch struct {
	segment, hop int
	one          *Periodogram
	win          []float64
	square       float64
}

// NewWelch returns a Welch with segments of the given even number of samples,
// of which each shares overlap samples with the next. It panics unless
// 0 ≤ overlap < segment.
func NewWelch(segment, overlap int) *Welch {
	if overlap < 0 || overlap >= segment {
		panic(fmt.Sprintf("signal: overlap of %d samples in segments of %d", overlap, segment))
	}
	w := &Welch{segment: segment, hop: segment - overlap, one: NewPeriodogram(segment)}
	// The package's window is symmetric; without its last point it is the
	// periodic one.
	w.win = window.Hann(segment + 1)[:segment]
	for _, v := range w.win {
		w.square += v * v
	}
	return w
}

// Estimate returns the spectrum of x, sampled at fs hertz, in the densities of
// dst where they are large enough. An x shorter than a segment is one shorter
// segment, on the same grid of frequencies.
func (w *Welch) Estimate(dst Spectrum, x []float64, fs float64) Spectrum {
	if len(x) < w.segment {
		return w.one.Estimate(dst, x, fs)
	}
	dst = w.one.empty(dst, fs)
	w.one.win, w.one.square = w.win, w.square
	count := 0
	for from := 0; from+w.segment <= len(x); from += w.hop {
		w.one.add(dst, x[from:from+w.segment], fs)
		count++
	}
	for k := range dst.Density {
		dst.Density[k] /= float64(count)
	}
	return dst
}
