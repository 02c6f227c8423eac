package signal

import (
	"math"

	"phonocycle/pipeline/simd"
)

// Spectrum is a one-sided power spectral density or a band of one.
//
// The density of bin k belongs to the frequency (First + k) · Step. Its unit
// is that of the signal squared per hertz, so that Step · Σ Density is the
// mean square of the (windowed) signal within the bins.
type Spectrum struct {
	First   int       // index of the first bin
	Step    float64   // Hz from one bin to the next
	Density []float64 // power per hertz
}

// Frequency returns the frequency of bin k in hertz.
func (s Spectrum) Frequency(k int) float64 { return float64(s.First+k) * s.Step }

// Band returns the bins with low ≤ f < high; it shares the densities of s.
// Neighbouring bands have no bin in common and leave none out.
func (s Spectrum) Band(low, high float64) Spectrum {
	from := s.bin(low)
	to := max(from, s.bin(high))
	return Spectrum{First: s.First + from, Step: s.Step, Density: s.Density[from:to]}
}

// sum returns Σ Density of the bins with low ≤ f < high.
func (s Spectrum) sum(low, high float64) float64 {
	from := s.bin(low)
	return simd.Sum(s.Density[from:max(from, s.bin(high))])
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

// Power returns Step · Σ Density, the power in the bins of s, in the unit of
// the signal squared.
func (s Spectrum) Power() float64 { return s.Step * simd.Sum(s.Density) }

// Share returns the power of s in low ≤ f < high over the power of s.
func (s Spectrum) Share(low, high float64) float64 {
	return ratio(s.sum(low, high), simd.Sum(s.Density))
}

// ratio returns a/b, and NaN unless b is positive.
func ratio(a, b float64) float64 {
	if !(b > 0) {
		return math.NaN()
	}
	return a / b
}
