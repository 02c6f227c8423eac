package signal

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"phonocycle/pipeline/simd"
)

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
	window  []float64 // odd length, peak in the middle
	power   []float64 // prefix sums of the squared window
	bands   []triangle
	eight   eight
	density [batch][]float64
}

// energyFloor is added to each band's energy before the logarithm is taken. It
// lies below the rounding noise of 16-bit samples, (2⁻¹⁵)²/12 = 7.8e-11, and
// keeps digital silence finite.
const energyFloor = 1e-12

// Limits that keep a damaged file from asking for all memory.
const (
	mostBands     = 1 << 12
	longestWindow = 10  // s
	narrowestBand = 0.1 // Hz, from foot to foot
)

// NewFilterBank prepares a filter bank for signals of rate fs in hertz.
func NewFilterBank(o FilterBankOptions, fs float64) (*FilterBank, error) {
	switch {
	case !(fs > 0):
		return nil, fmt.Errorf("filter bank: sampling rate %v Hz is not positive", fs)
	case o.Bands < 1 || o.Bands > mostBands:
		return nil, fmt.Errorf("filter bank: %d bands: want 1 to %d", o.Bands, mostBands)
	case !(o.Low >= 0 && o.Low < o.High && o.High <= fs/2):
		return nil, fmt.Errorf("filter bank: range %g to %g Hz: want 0 ≤ low < high ≤ %g Hz, half the sampling rate", o.Low, o.High, fs/2)
	case !(o.Window*fs >= 3 && o.Window <= longestWindow):
		return nil, fmt.Errorf("filter bank: window of %g s: want at least three samples at %g Hz, and at most %d s", o.Window, fs, longestWindow)
	}
	edges := melEdges(o.Low, o.High, o.Bands)
	if width := edges[2] - edges[0]; !(width >= narrowestBand) {
		return nil, fmt.Errorf("filter bank: %d bands from %g to %g Hz: the lowest is %g Hz wide: want at least %g Hz", o.Bands, o.Low, o.High, width, narrowestBand)
	}
	half := int(math.Round(o.Window * fs / 2))
	n := fftLength(2*half+1, edges, fs)
	fb := &FilterBank{
		window: HannWindow(half),
		bands:  melBands(edges, fs/float64(n)),
		eight:  newEight(n),
	}
	for s := range fb.density {
		fb.density[s] = make([]float64, n/2+1)
	}
	fb.power = make([]float64, len(fb.window)+1)
	for i, w := range fb.window {
		fb.power[i+1] = fb.power[i] + w*w
	}
	return fb, nil
}

// HannWindow returns the symmetric Hann window of 2·half + 1 points
// w[i] = (1 + cos(π(i − half)/(half + 1)))/2, whose zeros lie just outside.
func HannWindow(half int) []float64 {
	w := make([]float64, 2*half+1)
	for i := range w {
		w[i] = 0.5 + 0.5*math.Cos(math.Pi*float64(i-half)/float64(half+1))
	}
	return w
}

// fftLength returns the power of two that holds the window and gives the
// narrowest band at least four bins from foot to foot.
func fftLength(window int, edges []float64, fs float64) int {
	bins := int(math.Ceil(4 * fs / (edges[2] - edges[0])))
	return 1 << bits.Len(uint(max(window, bins)-1))
}

// LogEnergies measures frames frames of x, centred at the samples first,
// first + hop, first + 2·hop and so on. A centre beyond the last sample is moved
// to it; x must not be empty, first not negative. It returns the natural
// logarithms of the band energies, band after band: band b at frame t is at
// index b·frames + t. The result is dst, where that is long enough.
func (fb *FilterBank) LogEnergies(dst, x []float64, first, hop, frames int) []float64 {
	dst = slices.Grow(dst[:0], len(fb.bands)*frames)[:len(fb.bands)*frames]
	for t := 0; t < frames; t += batch {
		together := min(frames-t, batch)
		for s := range together {
			fb.put(s, x, min(first+(t+s)*hop, len(x)-1))
		}
		fb.eight.transform()
		for s, density := range fb.density[:together] {
			for b, h := range fb.bands {
				dst[b*frames+t+s] = simd.Dot(h.weights, density[h.first:]) + energyFloor
			}
		}
	}
	simd.Log(dst, dst)
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
	simd.SubMul(row[from+shift:], x[from:to], fb.window[from+shift:], 0)
	fb.eight.rows[s], fb.eight.power[s] = row, fb.density[s]
	fb.eight.scale[s] = 1 / (fb.power[to+shift] - fb.power[from+shift])
}
