package signal

import (
	"fmt"
	"math"

	"github.com/mjibson/go-dsp/window"

	"phonocycle/pipeline/simd"
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
// Padding does not improve the resolution: two lines closer than about 2/T
// hertz cannot be told apart in a stretch of T seconds.
//
// A Periodogram holds a plan and buffers; it is not for concurrent use.
type Periodogram struct {
	n     int
	eight eight

	windows map[int]hannWindow // those met, by length
	power   [batch][]float64   // of the segments under way
}

// Stretch is a stretch of signal sampled at Rate hertz.
type Stretch struct {
	Samples []float64
	Rate    float64
}

// hannWindow is a window and Σ w².
type hannWindow struct {
	weights []float64
	square  float64
}

// NewPeriodogram returns a Periodogram with the grid of an n-point transform.
// It panics unless n is even and a power of two, or three times one.
func NewPeriodogram(n int) *Periodogram {
	if n < 2 || n%2 != 0 {
		panic(fmt.Sprintf("signal: periodogram of %d points: want an even number of at least 2", n))
	}
	p := &Periodogram{n: n, eight: newEight(n), windows: make(map[int]hannWindow)}
	for s := range p.power {
		p.power[s] = make([]float64, n/2+1)
	}
	return p
}

// Points returns n.
func (p *Periodogram) Points() int { return p.n }

// Estimate returns the spectrum of x, sampled at fs hertz, in the densities of
// dst where they are large enough. An x of fewer than two samples has no
// power.
func (p *Periodogram) Estimate(dst Spectrum, x []float64, fs float64) Spectrum {
	one := [1]Spectrum{dst}
	p.Estimates(one[:], []Stretch{{x, fs}})
	return one[0]
}

// Estimates makes dst[i] the spectrum of each of[i], as Estimate does. Eight
// stretches take little longer than one: they are transformed together.
func (p *Periodogram) Estimates(dst []Spectrum, of []Stretch) {
	for len(of) > 0 {
		n := min(len(of), batch)
		for s, stretch := range of[:n] {
			dst[s] = p.empty(dst[s], stretch.Rate)
			if len(stretch.Samples) <= p.n {
				p.put(s, stretch.Samples, stretch.Rate, p.hann(len(stretch.Samples)))
				p.eight.power[s] = dst[s].Density
			}
		}
		p.eight.transform()
		for s, stretch := range of[:n] {
			if len(stretch.Samples) > p.n {
				p.estimateLong(dst[s], stretch)
			}
			halveEnds(dst[s].Density)
		}
		dst, of = dst[n:], of[n:]
	}
}

// estimateLong sets the densities of dst to those of a stretch of more than n
// samples, its ends still counted twice.
func (p *Periodogram) estimateLong(dst Spectrum, of Stretch) {
	rest := len(of.Samples) - p.n
	last := (2*rest + p.n - 1) / p.n // m − 1
	p.average(dst, of, p.hann(p.n), last+1, func(i int) int { return (2*i*rest + last) / (2 * last) })
}

// average sets the densities of dst to the mean of the periodograms of m segments
// of n samples, of which the i-th begins at sample from(i).
func (p *Periodogram) average(dst Spectrum, of Stretch, w hannWindow, m int, from func(i int) int) {
	clear(dst.Density)
	for done := 0; done < m; done += batch {
		one := p.power[:min(m-done, batch)]
		for s := range one {
			p.put(s, of.Samples[from(done+s):][:p.n], of.Rate, w)
			p.eight.power[s] = one[s]
		}
		p.eight.transform()
		for ; len(one) >= 4; one = one[4:] {
			addFour(dst.Density, one[0], one[1], one[2], one[3])
		}
		for _, power := range one {
			for k, v := range power {
				dst.Density[k] += v
			}
		}
	}
	for k := range dst.Density {
		dst.Density[k] /= float64(m)
	}
}

// empty returns a spectrum on the grid of p with room for its densities.
func (p *Periodogram) empty(dst Spectrum, fs float64) Spectrum {
	return Spectrum{Step: fs / float64(p.n), Density: resize(dst.Density, p.n/2+1)}
}

// halveEnds makes densities that count each bin for its mirror image as well
// right at the two that have none.
func halveEnds(density []float64) {
	density[0] /= 2
	density[len(density)-1] /= 2
}

// hann returns the window for stretches of n samples. It is computed here and
// not taken from a package because n changes with every stretch, and kept because
// the lengths of states recur.
func (p *Periodogram) hann(n int) hannWindow {
	if w, ok := p.windows[n]; ok {
		return w
	}
	w := hannWindow{weights: make([]float64, n)}
	for i := range w.weights {
		v := (1 - math.Cos(2*math.Pi*float64(i)/float64(n))) / 2
		w.weights[i] = v
		w.square += v * v
	}
	p.windows[n] = w
	return w
}

// put makes x, as long as the window, freed of its mean and weighed, the s-th
// stretch of the next transform.
func (p *Periodogram) put(s int, x []float64, fs float64, w hannWindow) {
	if !(w.square > 0) {
		return
	}
	p.eight.scale[s] = 2 / (fs * w.square)
	mean := simd.Sum(x) / float64(len(x))
	row := p.eight.rows[s][:len(x)]
	p.eight.rows[s] = row
	simd.SubMul(row, x, w.weights, mean)
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
	window       hannWindow
}

// NewWelch returns a Welch with segments of the given number of samples, even and
// a power of two, or three times one, of which each shares overlap samples with
// the next. It panics unless 0 ≤ overlap < segment.
func NewWelch(segment, overlap int) *Welch {
	if overlap < 0 || overlap >= segment {
		panic(fmt.Sprintf("signal: overlap of %d samples in segments of %d", overlap, segment))
	}
	w := &Welch{segment: segment, hop: segment - overlap, one: NewPeriodogram(segment)}
	// The package's window is symmetric; without its last point it is the
	// periodic one.
	w.window.weights = window.Hann(segment + 1)[:segment]
	for _, v := range w.window.weights {
		w.window.square += v * v
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
	segments := 1 + (len(x)-w.segment)/w.hop
	w.one.average(dst, Stretch{x, fs}, w.window, segments, func(i int) int { return i * w.hop })
	halveEnds(dst.Density)
	return dst
}

// addFour adds the sum of four rows to dst, which they are as long as.
func addFour(dst, a, b, c, d []float64) {
	a, b, c, d = a[:len(dst)], b[:len(dst)], c[:len(dst)], d[:len(dst)]
	for k := range dst {
		dst[k] += (a[k] + b[k]) + (c[k] + d[k])
	}
}
