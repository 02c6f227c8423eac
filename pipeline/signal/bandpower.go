package signal

import (
	"math"

	"phonocycle/pipeline/simd"
)

// BandPower measures the power of a signal in a band, frame by frame, by a
// short-time Fourier transform evaluated at the frequencies of the band only.
// The 40 to 60 Hz band, where both heart sounds have most of their energy, is
// one of the four features of Springer, Tarassenko and Clifford 2016 (IEEE
// Trans Biomed Eng 63:822, doi 10.1109/TBME.2015.2475278).
type BandPower struct {
	hop      int
	width    int
	carriers [][2][]float64 // windowed cosine and sine, one pair a frequency, with zeros to a multiple of four
	part     []float64      // inner products with one of them
	edge     []float64
}

// NewBandPower returns a plan with a Hamming window of width samples every
// hop samples, at the frequencies low, low + fs/width, … up to high hertz.
// The window is scaled so that a tone of amplitude A at one of them, when
// alone, has the power A²/2 there.
func NewBandPower(low, high, fs float64, width, hop int) *BandPower {
	b := &BandPower{hop: hop, width: width}
	window := make([]float64, width)
	total := 0.0
	for i := range window {
		window[i] = 0.54 - 0.46*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(width))
		total += window[i]
	}
	step := fs / float64(width)
	for k := 0; low+float64(k)*step <= high*(1+1e-12); k++ {
		f := low + float64(k)*step
		c, s := make([]float64, width), make([]float64, width)
		for i, w := range window {
			sin, cos := math.Sincos(2 * math.Pi * f * float64(i) / fs)
			c[i], s[i] = math.Sqrt2*w*cos/total, math.Sqrt2*w*sin/total
		}
		b.carriers = append(b.carriers, [2][]float64{simd.PadTaps(c), simd.PadTaps(s)})
	}
	return b
}

// Frames writes to dst the mean power over the frequencies of the band for
// each frame; frame t is centred on t·hop + hop/2, len(dst) = ceil(len(x)/hop)
// and x is mirrored at its ends. dst must not overlap x.
func (b *BandPower) Frames(dst, x []float64) []float64 {
	n := len(x)
	dst = resize(dst, (n+b.hop-1)/b.hop)
	clear(dst)
	before := b.width/2 - b.hop/2 // samples of frame 0 before the first of x
	whole := 0                    // frames that end within x
	if room := n + before - b.padded(); room >= 0 {
		whole = min(room/b.hop+1, len(dst))
	}
	first := min((max(before, 0)+b.hop-1)/b.hop, whole)
	b.mirrored(dst, x, 0, first, before)
	b.mirrored(dst, x, whole, len(dst), before)
	if first < whole {
		b.add(dst[first:whole], x[first*b.hop-before:])
	}
	for t := range dst {
		dst[t] /= float64(len(b.carriers))
	}
	return dst
}

// padded returns the length of the carriers.
func (b *BandPower) padded() int { return (b.width + simd.Width - 1) / simd.Width * simd.Width }

// mirrored adds the powers of the frames from first to before last, which reach
// over an end of x.
func (b *BandPower) mirrored(dst, x []float64, first, last, before int) {
	b.edge = resize(b.edge, b.padded())
	for t := first; t < last; t++ {
		for i := range b.edge {
			b.edge[i] = x[mirror(t*b.hop-before+i, len(x))]
		}
		b.add(dst[t:t+1], b.edge)
	}
}

// add adds to dst the squares of the inner products of the carriers with the
// frames that begin at the start of x and every hop samples from there.
func (b *BandPower) add(dst, x []float64) {
	b.part = resize(b.part, len(dst))
	for _, pair := range b.carriers {
		for _, c := range pair {
			simd.Decimate(b.part, x, c, b.hop)
			for t, v := range b.part {
				dst[t] += v * v
			}
		}
	}
}
