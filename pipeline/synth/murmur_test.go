package synth

import (
	"math"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"

	"phonocycle/pipeline/pcg"
)

// murmurAlone returns what a murmur adds to a recording.
func murmurAlone(r *Recording, m Murmur) []float64 {
	x := make([]float64, len(r.Samples))
	m.addTo(x, r.Rate, r.Beats, stream(3, "murmur 1"))
	return x
}

// A murmur is added to the sounds and moves nothing.
func TestMurmurIsAdded(t *testing.T) {
	m := Murmur{State: pcg.Systole, To: 1, Shape: Plateau, Low: 130, High: 410, Level: 0.05}
	h := NewHeart(70, RestingMen, 3)
	without := render(t, h, 8*time.Second)
	h.Murmurs = []Murmur{m}
	with := render(t, h, 8*time.Second)
	if !slices.Equal(with.Truth, without.Truth) {
		t.Error("a murmur moved the truth")
	}
	for n, v := range murmurAlone(without, m) {
		if math.Abs(with.Samples[n]-without.Samples[n]-v) > 1e-15 {
			t.Fatalf("sample %d: %g becomes %g with a murmur of %g", n, without.Samples[n], with.Samples[n], v)
		}
	}
}

func TestMurmurBand(t *testing.T) {
	r := render(t, NewHeart(70, RestingMen, 3), 16*time.Second)
	for _, shape := range Shapes() {
		for _, band := range [][2]float64{{130, 410}, {30, 100}, {400, 700}} {
			m := Murmur{State: pcg.Systole, To: 1, Shape: shape, Low: band[0], High: band[1], Level: 0.05}
			if got := spectrum(murmurAlone(r, m)).share(band[0], band[1]); got < 0.97 {
				t.Errorf("%s in %g to %g Hz: %.3f of the energy lies in the band", shape, band[0], band[1], got)
			}
		}
	}
}

// powers is the power spectrum of a signal of 4 kHz.
type powers []float64

func spectrum(x []float64) powers {
	var p powers
	for _, c := range fourier.NewFFT(len(x)).Coefficients(nil, x) {
		p = append(p, real(c)*real(c)+imag(c)*imag(c))
	}
	return p
}

// share returns the share of the energy within [low, high] hertz.
func (p powers) share(low, high float64) float64 {
	step := 2000 / float64(len(p)-1)
	return floats.Sum(p[int(math.Ceil(low/step)):int(math.Floor(high/step))+1]) / floats.Sum(p)
}

// The mean square over many beats follows the square of the shape, keeps the
// level asked for, and is zero outside the extent.
func TestMurmurShape(t *testing.T) {
	const bins = 10
	r := render(t, NewHeart(60, RestingMen, 8), 24*time.Second)
	for _, state := range []pcg.State{pcg.Systole, pcg.Diastole} {
		for _, shape := range Shapes() {
			m := Murmur{State: state, From: 0.2, To: 0.9, Shape: shape, Low: 150, High: 600, Level: 0.05}
			x := murmurAlone(r, m)
			var power, want, count [bins]float64
			for _, iv := range r.Truth[1 : len(r.Truth)-1] {
				from, to := pcg.ToSamples(iv.Start, r.Rate), pcg.ToSamples(iv.End, r.Rate)
				for n := from; n < to; n++ {
					s := float64(n-from) / float64(to-from)
					u := (s - m.From) / (m.To - m.From)
					const slack = 0.01 // the extent lies on times, not on samples
					if iv.State != state || u < -slack || u > 1+slack {
						if math.Abs(x[n]) > 1e-15 {
							t.Fatalf("%s in %v: sound at %v of %v", shape, state, u, iv)
						}
						continue
					}
					k := min(bins-1, max(0, int(u*bins)))
					power[k] += x[n] * x[n]
					want[k] += math.Pow(m.Level*shape.at(u), 2)
					count[k]++
				}
			}
			for k := range bins {
				got, want := power[k]/count[k], want[k]/count[k]
				if math.Abs(got-want) > 0.25*want+0.04*m.Level*m.Level {
					t.Errorf("%s in %v, tenth %d: mean square %.3g, want %.3g", shape, state, k, got, want)
				}
			}
		}
	}
}

func TestShapesReachOneAndEndAtZero(t *testing.T) {
	for _, shape := range Shapes() {
		peak := 0.0
		for u := 0.0; u <= 1; u += 0.001 {
			w := shape.at(u)
			if w < 0 || w > 1 {
				t.Errorf("%s at %g is %g", shape, u, w)
			}
			peak = max(peak, w)
		}
		if peak < 0.999 {
			t.Errorf("%s peaks at %g", shape, peak)
		}
		for _, u := range []float64{-0.1, 0, 1, 1.1} {
			if w := shape.at(u); math.Abs(w) > 1e-15 {
				t.Errorf("%s at %g is %g, want 0", shape, u, w)
			}
		}
	}
	if Shape("wavy").at(0.5) != 0 {
		t.Error("an unknown shape sounds")
	}
}
