package synth

import (
	"math"
	"testing"
	"time"

	"phonocycle/pipeline/synth/noise"
)

// The measured ratio is the one asked for, not only on average.
func TestSignalToNoiseRatio(t *testing.T) {
	h := NewHeart(72, RestingMen, 4)
	clean := render(t, h, 10*time.Second)
	for _, colour := range Colours() {
		for _, snr := range []float64{-6, 0, 6, 20, 40} {
			noisy := render(t, h, 10*time.Second, WithNoise(colour, snr))
			added := make([]float64, len(clean.Samples))
			for i := range added {
				added[i] = noisy.Samples[i] - clean.Samples[i]
			}
			got := 10 * math.Log10(noise.Power(clean.Samples)/noise.Power(added))
			if math.Abs(got-snr) > 1e-6 {
				t.Errorf("%s noise: %.7f dB, want %g", colour, got, snr)
			}
		}
	}
}

// The power of an octave is constant for pink noise, falls by 3 dB an octave for
// brown and rises by 3 dB for white.
func TestColours(t *testing.T) {
	slopes := map[Colour]float64{noise.White: 10 * math.Log10(2), noise.Pink: 0, noise.Brown: -10 * math.Log10(2)}
	for _, colour := range Colours() {
		p := spectrum(new(noise.Generator).Shaped(1<<18, 4000, stream(1, string(colour)), colour.Gain))
		first := p.share(40, 80)
		for octave, low := 1, 80.0; low < 1000; octave, low = octave+1, low*2 {
			got := 10 * math.Log10(p.share(low, 2*low)/first)
			if want := slopes[colour] * float64(octave); math.Abs(got-want) > 0.4 {
				t.Errorf("%s: octave above %g Hz is %.2f dB from the lowest, want %.2f", colour, low, got, want)
			}
		}
	}
}
