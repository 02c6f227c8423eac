package signal

import (
	"math"

	"github.com/mjibson/go-dsp/window"

	"phonocycle/pipeline/simd"
)

// Decimator keeps every n-th sample of a signal after a low-pass that leaves
// the band below a given frequency alone, so that the spectrum of that band can
// be estimated from fewer samples.
//
// The low-pass is a windowed sinc with Blackman's window (Blackman and Tukey
// 1958), symmetric about each kept sample, so that nothing is delayed. What it
// lets through between the band and its image lies outside the band; the image
// itself, from fs/n − band upwards, is at least 70 dB down. By a factor of two it
// is a half-band filter: the sinc vanishes at every second sample but the middle
// one. A Decimator serves one goroutine.
type Decimator struct {
	factor int
	half   int
	taps   []float64
	padded []float64 // taps, for simd.Decimate

	halfBand *simd.HalfBand // the same low-pass where the factor is two
}

// NewDecimator returns a Decimator by the factor n for signals of rate fs whose
// band from 0 to band hertz is to be kept. It panics unless n ≥ 1 and
// band < fs/2n.
func NewDecimator(n int, band, fs float64) *Decimator {
	if n < 1 || !(band < fs/float64(2*n)) {
		panic("signal: decimation leaves no room for the band")
	}
	d := &Decimator{factor: n}
	if n == 1 {
		return d
	}
	// Blackman's main lobe makes the transition 5.5/length wide.
	transition := fs/float64(n) - 2*band
	d.half = int(math.Ceil(5.5 * fs / transition / 2))
	d.taps = window.Blackman(2*d.half + 1)
	cut := 1 / float64(n) // over fs/2: the middle of the transition
	var sum float64
	for i := range d.taps {
		d.taps[i] *= sinc(cut * float64(i-d.half))
		sum += d.taps[i]
	}
	for i := range d.taps {
		d.taps[i] /= sum
	}
	if n == 2 {
		var side []float64
		for i := d.half + 1; i < len(d.taps); i += 2 {
			side = append(side, d.taps[i])
		}
		d.halfBand = simd.NewHalfBand(d.taps[d.half], side)
		return d
	}
	d.padded = simd.PadTaps(d.taps)
	return d
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// Decimate writes to dst the low-passed x at its samples 0, n, 2n and so on;
// x is zero outside. dst must not be x unless the factor is 1.
func (d *Decimator) Decimate(dst, x []float64) []float64 {
	dst = resize(dst, (len(x)+d.factor-1)/d.factor)
	if d.factor == 1 {
		copy(dst, x)
		return dst
	}
	if d.halfBand != nil {
		d.halfBand.Filter(dst, x, 0)
		return dst
	}
	m := d.edge(dst, x, 0, min((d.half+d.factor-1)/d.factor, len(dst)))
	m = d.inside(dst, x, m)
	d.edge(dst, x, m, len(dst))
	return dst
}

// inside writes the samples from m on whose filter lies within x and returns the
// first that it has not written.
func (d *Decimator) inside(dst, x []float64, m int) int {
	from := m*d.factor - d.half
	if from < 0 || from+len(d.padded) > len(x) {
		return m
	}
	end := min(m+(len(x)-from-len(d.padded))/d.factor+1, len(dst))
	simd.Decimate(dst[m:end], x[from:], d.padded, d.factor)
	return end
}

// edge writes the samples from m to before end, whose filter may reach over an
// end of x, and returns end.
func (d *Decimator) edge(dst, x []float64, m, end int) int {
	for ; m < end; m++ {
		from := m*d.factor - d.half
		taps := d.taps
		if from < 0 {
			taps, from = taps[-from:], 0
		}
		around := x[from:min(from+len(taps), len(x))]
		var sum float64
		for i, v := range around {
			sum += taps[i] * v
		}
		dst[m] = sum
	}
	return end
}
