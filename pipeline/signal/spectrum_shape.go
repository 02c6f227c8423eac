package signal

import (
	"math"
	"math/bits"
	"slices"

	"phonocycle/pipeline/simd"
)

// Shape measures how the power of a spectrum is spread over its K bins.
//
// The measures treat p[k] = Density[k] / Σ Density as weights of the
// frequencies. They do not change with the gain of the signal, and they are NaN
// where the spectrum is empty or holds no power.
//
// A Shape computes once what several measures share. It owns buffers and is not
// for concurrent use; the zero value is ready for use.
type Shape struct {
	spectrum  Spectrum
	frequency []float64 // of the bins
	log       []float64 // ln Density
	upTo      []float64 // Σ Density from the first bin up to this one
	weighed   []float64
	total     float64 // Σ Density
	logs      float64 // Σ ln Density
	centroid  float64
	line      line
}

// Of returns s as the shape of p, until s is used again or the densities of p
// change.
func (s *Shape) Of(p Spectrum) *Shape {
	n := len(p.Density)
	if p.First != s.spectrum.First || p.Step != s.spectrum.Step || n != len(s.frequency) {
		s.frequency = resize(s.frequency, n)
		for k := range s.frequency {
			s.frequency[k] = p.Frequency(k)
		}
		s.line = line{}
	}
	s.spectrum = p
	s.log, s.upTo = resize(s.log, n), resize(s.upTo, n)
	simd.Log(s.log, p.Density)
	s.logs = simd.Sum(s.log)
	s.total = accumulate(s.upTo, p.Density)
	s.centroid = ratio(simd.Dot(s.frequency, p.Density), s.total)
	return s
}

// accumulate writes to dst the sums of d up to each of its values and returns that
// of all. Four at a time, only one addition in four waits for another.
func accumulate(dst, d []float64) float64 {
	total := 0.0
	for ; len(d) >= 4 && len(dst) >= 4; dst, d = dst[4:], d[4:] {
		one := d[0]
		two := one + d[1]
		three := two + d[2]
		four := three + d[3]
		dst[0], dst[1], dst[2], dst[3] = total+one, total+two, total+three, total+four
		total = dst[3]
	}
	for k, v := range d {
		total += v
		dst[k] = total
	}
	return total
}

// Share returns the power in low ≤ f < high over that of the spectrum.
func (s *Shape) Share(low, high float64) float64 {
	return ratio(s.spectrum.sum(low, high), s.total)
}

// Centroid returns Σ f p, the mean frequency in hertz.
func (s *Shape) Centroid() float64 { return s.centroid }

// Spread returns √(Σ (f − centroid)² p), the standard deviation of the
// frequency in hertz.
func (s *Shape) Spread() float64 {
	s.weighed = resize(s.weighed, len(s.frequency))
	simd.SubMul(s.weighed, s.frequency, s.spectrum.Density, s.centroid)
	simd.SubMul(s.weighed, s.frequency, s.weighed, s.centroid)
	return math.Sqrt(ratio(simd.Sum(s.weighed), s.total))
}

// Quantile returns the frequency in hertz below which the share q of the power
// lies, for 0 < q ≤ 1: q = 0.5 is the median frequency, 0.85 and 0.95 are the
// usual points of roll-off. A bin spreads its power evenly from Step/2 below
// its frequency to Step/2 above.
func (s *Shape) Quantile(q float64) float64 {
	if !(s.total > 0) {
		return math.NaN()
	}
	// The first bin that reaches the share holds power.
	want := q * s.total
	k := firstAtLeast(s.upTo, want)
	return s.frequency[k] + s.spectrum.Step*(0.5-(s.upTo[k]-want)/s.spectrum.Density[k])
}

// firstAtLeast returns the first place of a value of at least v > 0 in x, which
// rises from no less than zero to no less than v. It compares
// without a branch, which a processor could not predict: the bits of such values
// are in the same order as whole numbers.
func firstAtLeast(x []float64, v float64) int {
	k := 0
	for n := len(x); n > 1; {
		half := n / 2
		_, less := bits.Sub64(math.Float64bits(x[k+half-1]), math.Float64bits(v), 0)
		k += half & -int(less)
		n -= half
	}
	return k
}

// Peak returns the frequency in hertz of the bin of greatest density, the
// lowest one of equals.
func (s *Shape) Peak() float64 {
	_, greatest := simd.MinMax(s.spectrum.Density)
	if !(greatest > 0) {
		return math.NaN()
	}
	return s.frequency[slices.Index(s.spectrum.Density, greatest)]
}

// Entropy returns −Σ p ln p / ln K, the [Evenness] of the densities: 0 for a
// single line, 1 for equal densities. It is NaN for fewer than two bins.
func (s *Shape) Entropy() float64 { return Evenness(s.spectrum.Density, s.log, s.total) }

// Flatness returns the geometric over the arithmetic mean of the densities:
// 1 for equal densities, 0 if one of them is zero. The expectation for a single
// periodogram of white noise is e^−γ ≈ 0.5615 (γ is Euler's constant), because
// its densities are exponentially distributed. Source of the measure: Gray and
// Markel 1974, doi 10.1109/TASSP.1974.1162572 (from memory).
func (s *Shape) Flatness() float64 {
	n := float64(len(s.spectrum.Density))
	return ratio(math.Exp(s.logs/n), s.total/n)
}

// Slope returns the slope in decibels an octave of the straight line through
// 10 log10 Density over log2 f at low ≤ f < high, by least squares with weights
// 1/f: bins lie evenly over f, and so weighted each octave counts alike. It is
// NaN if fewer than two bins lie above 0 Hz or one of them holds no power. A
// density proportional to f^−a has the slope −10 a log10 2 ≈ −3.01 a.
func (s *Shape) Slope(low, high float64) float64 {
	from := max(s.spectrum.bin(low), 1-s.spectrum.First)
	to := s.spectrum.bin(high)
	if to-from < 2 {
		return math.NaN()
	}
	s.line.over(s.frequency, from, to)
	// From powers over frequencies to decibels over octaves.
	const scale = 10 * math.Ln2 / math.Ln10
	slope := scale * simd.Dot(s.line.weights, s.log[from:to])
	if math.IsInf(slope, 0) {
		return math.NaN()
	}
	return slope
}

// line fits straight lines over the logarithms of the same frequencies: with
// x = ln f, the weights w = 1/f and x̄ = Σ w x / Σ w, the slope of y is
// Σ w (x − x̄) y / Σ w (x − x̄)², a sum of y with fixed weights.
type line struct {
	from, to int
	weights  []float64
}

// over makes the weights those for the frequencies from one bin to before
// another, unless they are.
func (l *line) over(frequency []float64, from, to int) {
	if l.weights != nil && l.from == from && l.to == to {
		return
	}
	l.from, l.to = from, to
	l.weights = resize(l.weights, to-from)
	simd.Log(l.weights, frequency[from:to])
	var weight, moment float64
	for k, x := range l.weights {
		weight += 1 / frequency[from+k]
		moment += x / frequency[from+k]
	}
	var square float64
	for k, x := range l.weights {
		x -= moment / weight
		l.weights[k] = x / frequency[from+k]
		square += x * l.weights[k]
	}
	for k := range l.weights {
		l.weights[k] = ratio(l.weights[k], square)
	}
}
