package signal

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"phonocycle/pipeline/simd"
)

// Mel returns the pitch in mel of a tone of f hertz,
//
//	m(f) = 2595 · log₁₀(1 + f/700).
//
// Formula: O'Shaughnessy, Speech Communication: Human and Machine, 1987 (from
// memory); the scale itself is that of Stevens, Volkmann and Newman 1937,
// doi 10.1121/1.1915893. Below 500 Hz, where heart sounds lie, it is nearly
// linear: bands grow from 15 Hz apart to 25 Hz apart, no more.
func Mel(f float64) float64 { return 2595 * math.Log10(1+f/700) }

// MelToHertz is the inverse of Mel.
func MelToHertz(m float64) float64 { return 700 * (math.Pow(10, m/2595) - 1) }

// FilterBankOptions says which bands a FilterBank measures and through which
// window.
type FilterBankOptions struct {
	Bands  int     `yaml:"bands" json:"bands"`       // number of bands
	Low    float64 `yaml:"low-hz" json:"low_hz"`     // lower edge of the lowest band, Hz
	High   float64 `yaml:"high-hz" json:"high_hz"`   // upper edge of the highest band, Hz
	Window float64 `yaml:"window-s" json:"window_s"` // length of the Hann window, s
}

// FilterBank measures the energy of a signal in overlapping triangular bands
// whose centres are equally spaced on the mel scale, the filter bank of Davis
// and Mermelstein 1980, doi 10.1109/TASSP.1980.1163420, laid over the range of
// heart sounds.
//
// The frame centred at sample c is cut out by a symmetric Hann window w and
// transformed, P_k = |Σ_n w_n x_{c+n} e^(−2πikn/N)|² / Σ_n w_n², and band b
// reads E_b = Σ_k h_bk P_k / Σ_k h_bk, a mean of P over the band's triangle h_b,
// so that white noise of variance σ² gives σ² in each band whatever its
// width. Where the window reaches beyond the signal, both the sum and the Σ w²
// that divides it run over what there is, so that a stationary signal is as
// loud at its ends as in its middle.
//
// A FilterBank owns buffers and serves one goroutine.
type FilterBank struct {
	options FilterBankOptions
	window  []float64 // odd length, peak in the middle
	power   []float64 // prefix sums of the squared window
	bands   []melBand
	eight   eight
	density [most][]float64
}

// melBand is one triangle: weights, summing to one, of the bins from first on.
type melBand struct {
	first   int
	weights []float64
}

// energyFloor is added to each band's energy before the logarithm is taken. It
// lies below the rounding noise of 16-bit samples, (2⁻¹⁵)²/12 = 7.8e-11, and
// keeps digital silence finite.
const energyFloor = 1e-12

// Limits that keep a damaged file from asking for all memory.
const (
	longestWindow = 10  // s
	narrowestBand = 0.1 // Hz, from foot to foot
)

// NewFilterBank prepares a filter bank for signals of rate fs in hertz.
func NewFilterBank(o FilterBankOptions, fs float64) (*FilterBank, error) {
	switch {
	case !(fs > 0):
		return nil, fmt.Errorf("filter bank: sampling rate %v Hz is not positive", fs)
	case o.Bands < 1:
		return nil, fmt.Errorf("filter bank: %d bands: want at least one", o.Bands)
	case !(o.Low >= 0 && o.Low < o.High && o.High <= fs/2):
		return nil, fmt.Errorf("filter bank: range %g to %g Hz: want 0 ≤ low < high ≤ %g Hz, half the sampling rate", o.Low, o.High, fs/2)
	case !(o.Window*fs >= 3 && o.Window <= longestWindow):
		return nil, fmt.Errorf("filter bank: window of %g s: want at least three samples at %g Hz, and at most %d s", o.Window, fs, longestWindow)
	}
	edges := melEdges(o)
	if width := edges[2] - edges[0]; !(width >= narrowestBand) {
		return nil, fmt.Errorf("filter bank: %d bands from %g to %g Hz: the lowest is %g Hz wide: want at least %g Hz", o.Bands, o.Low, o.High, width, narrowestBand)
	}
	half := int(math.Round(o.Window * fs / 2))
	n := fftLength(2*half+1, edges, fs)
	fb := &FilterBank{
		options: o,
		window:  symmetricHann(half),
		eight:   newEight(n),
	}
	for s := range fb.density {
		fb.density[s] = make([]float64, n/2+1)
	}
	fb.power = make([]float64, len(fb.window)+1)
	for i, w := range fb.window {
		fb.power[i+1] = fb.power[i] + w*w
	}
	for b := range o.Bands {
		fb.bands = append(fb.bands, melTriangle(edges[b], edges[b+1], edges[b+2], fs/float64(n)))
	}
	return fb, nil
}

// symmetricHann returns a symmetric Hann window of 2·half+1 points whose zeros lie just
// outside.
func symmetricHann(half int) []float64 {
	w := make([]float64, 2*half+1)
	for i := range w {
		w[i] = 0.5 + 0.5*math.Cos(math.Pi*float64(i-half)/float64(half+1))
	}
	return w
}

// melEdges returns the Bands+2 frequencies, equally spaced in mel from Low to
// High, of which each three neighbours are foot, peak and foot of a triangle.
func melEdges(o FilterBankOptions) []float64 {
	low, high := Mel(o.Low), Mel(o.High)
	edges := make([]float64, o.Bands+2)
	for i := range edges {
		edges[i] = MelToHertz(low + (high-low)*float64(i)/float64(o.Bands+1))
	}
	return edges
}

// fftLength returns the power of two that holds the window and gives the
// narrowest band at least four bins from foot to foot.
func fftLength(window int, edges []float64, fs float64) int {
	bins := int(math.Ceil(4 * fs / (edges[2] - edges[0])))
	return 1 << bits.Len(uint(max(window, bins)-1))
}

// melTriangle samples a triangle from lo over peak to hi at multiples of df.
func melTriangle(lo, peak, hi, df float64) melBand {
	var b melBand
	var sum float64
	for k := int(lo/df) + 1; float64(k)*df < hi; k++ {
		f := float64(k) * df
		w := (f - lo) / (peak - lo)
		if f > peak {
			w = (hi - f) / (hi - peak)
		}
		if len(b.weights) == 0 {
			b.first = k
		}
		b.weights = append(b.weights, w)
		sum += w
	}
	for i := range b.weights {
		b.weights[i] /= sum
	}
	return b
}

// Options returns what the filter bank was made with.
func (fb *FilterBank) Options() FilterBankOptions { return fb.options }

// Centres returns the frequencies in hertz at which the bands peak.
func (fb *FilterBank) Centres() []float64 {
	edges := melEdges(fb.options)
	return edges[1 : len(edges)-1]
}

// LogEnergies measures frames frames of x, centred at the samples first,
// first + hop, first + 2·hop and so on. A centre beyond the last sample is moved
// to it; x must not be empty, first not negative. It returns the natural
// logarithms of the band energies, band after band: band b at frame t is at
// index b·frames + t. The result is dst, where that is long enough.
func (fb *FilterBank) LogEnergies(dst, x []float64, first, hop, frames int) []float64 {
	dst = slices.Grow(dst[:0], len(fb.bands)*frames)[:len(fb.bands)*frames]
	for t := 0; t < frames; t += most {
		together := min(frames-t, most)
		for s := range together {
			fb.put(s, x, min(first+(t+s)*hop, len(x)-1))
		}
		fb.eight.transform()
		for s, density := range fb.density[:together] {
			for b, h := range fb.bands {
				e := simd.Dot(h.weights, density[h.first:])
				dst[b*frames+t+s] = math.Log(e + energyFloor)
			}
		}
	}
	return dst
}

// put makes the frame centred at sample c of x the s-th of the next transform,
// whose P becomes density[s].
func (fb *FilterBank) put(s int, x []float64, c int) {
	half := len(fb.window) / 2
	from, to := max(c-half, 0), min(c+half+1, len(x))
	shift := half - c // index in the window of sample 0
	row := fb.eight.rows[s][:to+shift]
	clear(row[:from+shift])
	simd.Weigh(row[from+shift:], x[from:to], fb.window[from+shift:], 0)
	fb.eight.rows[s], fb.eight.power[s] = row, fb.density[s]
	fb.eight.scale[s] = 1 / (fb.power[to+shift] - fb.power[from+shift])
}
