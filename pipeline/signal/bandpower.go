package signal

import "math"

// BandPower measures the power of a signal in a band, frame by frame, by a
// short-time Fourier transform evaluated at the frequencies of the band only.
// The 40 to 60 Hz band, where both heart sounds have most of their energy, is
// one of the four features of Springer, Tarassenko and Clifford 2016 (IEEE
// Trans Biomed Eng 63:822, doi 10.1109/TBME.2015.2475278).
type BandPower struct {
	hop      int
	width    int
	cos, sin [][]float64 // windowed carriers, one a frequency
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
		b.cos, b.sin = append(b.cos, c), append(b.sin, s)
	}
	return b
}

// Frames writes to dst the mean power over the frequencies of the band for
// each frame; frame t is centred on t·hop + hop/2, len(dst) = ceil(len(x)/hop)
// and x is mirrored at its ends. dst must not overlap x.
func (b *BandPower) Frames(dst, x []float64) []float64 {
	n := len(x)
	dst = resize(dst, (n+b.hop-1)/b.hop)
	for t := range dst {
		from := t*b.hop + b.hop/2 - b.width/2
		power := 0.0
		for k := range b.cos {
			re, im := 0.0, 0.0
			if from >= 0 && from+b.width <= n {
				for i, v := range x[from : from+b.width] {
					re += v * b.cos[k][i]
					im += v * b.sin[k][i]
				}
			} else {
				for i := range b.cos[k] {
					v := x[mirror(from+i, n)]
					re += v * b.cos[k][i]
					im += v * b.sin[k][i]
				}
			}
			power += re*re + im*im
		}
		dst[t] = power / float64(len(b.cos))
	}
	return dst
}
