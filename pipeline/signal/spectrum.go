package signal

import "math"

// Spectrum is a one-sided power spectral density or a band of one.
//
// The density of bin k belongs to the frequency (First + k) · Step. Its unit
// is that of the signal squared per hertz, so that Step · Σ Density is the
// mean square of the (windowed) signal within the bins.
//
// The measures of shape below treat p[k] = Density[k] / Σ Density as weights
// of the frequencies. They do not change with the gain of the signal, and they
// are NaN where the spectrum is empty or holds no power.
type Spectrum struct {
	First   int       // index of the first bin
	Step    float64   // Hz from one bin to the next
	Density []float64 // power per hertz

	logs []float64 // of the densities, by WithLogs
	axis []float64 // of the frequencies
}

// Logs holds the natural logarithms of a spectrum, which several of its measures
// need. It owns buffers and serves one spectrum at a time.
type Logs struct {
	density, frequency []float64
	first              int
	step               float64
}

// WithLogs returns s with the logarithms of its densities and frequencies at hand
// in l, until l is used again or the densities change.
func (s Spectrum) WithLogs(l *Logs) Spectrum {
	if l.first != s.First || l.step != s.Step || len(l.frequency) != len(s.Density) {
		l.first, l.step = s.First, s.Step
		l.frequency = resize(l.frequency, len(s.Density))
		for k := range l.frequency {
			l.frequency[k] = math.Log(s.Frequency(k))
		}
	}
	l.density = resize(l.density, len(s.Density))
	for k, d := range s.Density {
		l.density[k] = math.Log(d)
	}
	s.logs, s.axis = l.density, l.frequency
	return s
}

// log returns the logarithms of the frequency and the density of bin k.
func (s *Spectrum) log(k int) (frequency, density float64) {
	if s.logs != nil {
		return s.axis[k], s.logs[k]
	}
	return math.Log(s.Frequency(k)), math.Log(s.Density[k])
}

// Frequency returns the frequency of bin k in hertz.
func (s Spectrum) Frequency(k int) float64 { return float64(s.First+k) * s.Step }

// Band returns the bins with low ≤ f < high; it shares the densities of s.
// Neighbouring bands have no bin in common and leave none out.
func (s Spectrum) Band(low, high float64) Spectrum {
	from := s.bin(low)
	to := max(from, s.bin(high))
	b := Spectrum{First: s.First + from, Step: s.Step, Density: s.Density[from:to]}
	if s.logs != nil {
		b.logs, b.axis = s.logs[from:to], s.axis[from:to]
	}
	return b
}

// bin returns the first bin of s at or above f hertz, and len(s.Density) if
// all lie below.
func (s Spectrum) bin(f float64) int {
	k := int(math.Ceil(f / s.Step))
	// The quotient may round over an edge that the product meets exactly.
	if float64(k-1)*s.Step >= f {
		k--
	}
	return min(max(k-s.First, 0), len(s.Density))
}

// sum returns Σ Density.
func (s Spectrum) sum() float64 {
	var t float64
	for _, d := range s.Density {
		t += d
	}
	return t
}

// Power returns Step · Σ Density, the power in the bins of s, in the unit of
// the signal squared.
func (s Spectrum) Power() float64 { return s.Step * s.sum() }

// Share returns the power of s in low ≤ f < high over the power of s.
func (s Spectrum) Share(low, high float64) float64 {
	return ratio(s.Band(low, high).sum(), s.sum())
}

// Centroid returns Σ f p, the mean frequency in hertz.
func (s Spectrum) Centroid() float64 {
	var m float64
	for k, d := range s.Density {
		m += s.Frequency(k) * d
	}
	return ratio(m, s.sum())
}

// Spread returns √(Σ (f − centroid)² p), the standard deviation of the
// frequency in hertz.
func (s Spectrum) Spread() float64 {
	c := s.Centroid()
	var m float64
	for k, d := range s.Density {
		f := s.Frequency(k) - c
		m += f * f * d
	}
	return math.Sqrt(ratio(m, s.sum()))
}

// Quantile returns the frequency in hertz below which the share q of the power
// lies, for 0 < q ≤ 1: q = 0.5 is the median frequency, 0.85 and 0.95 are the
// usual points of roll-off. A bin spreads its power evenly from Step/2 below
// its frequency to Step/2 above.
func (s Spectrum) Quantile(q float64) float64 {
	total := s.sum()
	if !(total > 0) {
		return math.NaN()
	}
	want, below := q*total, 0.0
	last := 0
	for k, d := range s.Density {
		if d == 0 {
			continue
		}
		if below+d >= want {
			return s.Frequency(k) + s.Step*((want-below)/d-0.5)
		}
		below += d
		last = k
	}
	// Only rounding of the sum brings q = 1 here.
	return s.Frequency(last) + s.Step/2
}

// Peak returns the frequency in hertz of the bin of greatest density, the
// lowest one of equals.
func (s Spectrum) Peak() float64 {
	best, at := 0.0, -1
	for k, d := range s.Density {
		if d > best {
			best, at = d, k
		}
	}
	if at < 0 {
		return math.NaN()
	}
	return s.Frequency(at)
}

// Entropy returns −Σ p ln p / ln K, the Shannon entropy (Shannon 1948, doi
// 10.1002/j.1538-7305.1948.tb01338.x) of the K bins over its greatest value:
// 0 for a single line, 1 for equal densities. It is NaN for fewer than two
// bins.
func (s Spectrum) Entropy() float64 {
	total := s.sum()
	if !(total > 0) || len(s.Density) < 2 {
		return math.NaN()
	}
	var h float64
	for _, d := range s.Density {
		if d > 0 {
			p := d / total
			h -= p * math.Log(p)
		}
	}
	return h / math.Log(float64(len(s.Density)))
}

// Flatness returns the geometric over the arithmetic mean of the densities:
// 1 for equal densities, 0 if one of them is zero. The expectation for a single
// periodogram of white noise is e^−γ ≈ 0.5615 (γ is Euler's constant), because
// its densities are exponentially distributed. Source of the measure: Gray and
// Markel 1974, doi 10.1109/TASSP.1974.1162572 (from memory).
func (s Spectrum) Flatness() float64 {
	total := s.sum()
	if !(total > 0) {
		return math.NaN()
	}
	n := float64(len(s.Density))
	var l float64
	for k := range s.Density {
		_, d := s.log(k)
		l += d
	}
	return math.Exp(l/n) / (total / n)
}

// Slope returns the slope in decibels an octave of the straight line through
// 10 log10 Density over log2 f, by least squares with weights 1/f: bins lie
// evenly over f, and so weighted each octave counts alike. It is NaN if fewer
// than two bins lie above 0 Hz or one of them holds no power. A density
// proportional to f^−a has the slope −10 a log10 2 ≈ −3.01 a.
func (s Spectrum) Slope() float64 {
	var sw, sx, sy, sxx, sxy float64
	for k, d := range s.Density {
		f := s.Frequency(k)
		if f <= 0 {
			continue
		}
		if !(d > 0) {
			return math.NaN()
		}
		w := 1 / f
		x, y := s.log(k)
		sw += w
		sx += w * x
		sy += w * y
		sxx += w * x * x
		sxy += w * x * y
	}
	// From powers over frequencies to decibels over octaves.
	const scale = 10 * math.Ln2 / math.Ln10
	return scale * ratio(sw*sxy-sx*sy, sw*sxx-sx*sx)
}

// ratio returns a/b, and NaN unless b is positive.
func ratio(a, b float64) float64 {
	if !(b > 0) {
		return math.NaN()
	}
	return a / b
}
