package synth

import (
	"math"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"phonocycle/pipeline/pcg"
)

// murmurAlone returns what the murmur adds to a recording.
func murmurAlone(t *testing.T, h Heart, m Murmur, d time.Duration) (*Recording, []float64) {
	t.Helper()
	without := render(t, h, d)
	h.Murmurs = []Murmur{m}
	with := render(t, h, d)
	if !slices.Equal(with.Truth, without.Truth) {
		t.Fatal("a murmur moved the truth")
	}
	x := make([]float64, len(with.Samples))
	for i := range x {
		x[i] = with.Samples[i] - without.Samples[i]
	}
	return with, x
}

func TestMurmurBand(t *testing.T) {
	for _, shape := range Shapes() {
		for _, band := range [][2]float64{{130, 410}, {30, 100}, {400, 700}} {
			m := Murmur{State: pcg.Systole, To: 1, Shape: shape, Low: band[0], High: band[1], Level: 0.05}
			_, x := murmurAlone(t, NewHeart(70, RestingMen, 3), m, 16*time.Second)
			if got := bandShare(x, 4000, band[0], band[1]); got < 0.97 {
				t.Errorf("%s in %g to %g Hz: %.3f of the energy lies in the band", shape, band[0], band[1], got)
			}
		}
	}
}

// bandShare returns the share of the energy of x within [low, high] hertz.
func bandShare(x []float64, rate int, low, high float64) float64 {
	plan := fourier.NewFFT(len(x))
	inside, total := 0.0, 0.0
	for k, c := range plan.Coefficients(nil, x) {
		p := real(c)*real(c) + imag(c)*imag(c)
		total += p
		if f := plan.Freq(k) * float64(rate); f >= low && f <= high {
			inside += p
		}
	}
	return inside / total
}

// The mean square over many beats follows the square of the shape, keeps the
// level asked for, and is zero outside the extent.
func TestMurmurShape(t *testing.T) {
	const bins = 10
	h := NewHeart(60, RestingMen, 8)
	for _, state := range []pcg.State{pcg.Systole, pcg.Diastole} {
		for _, shape := range Shapes() {
			m := Murmur{State: state, From: 0.2, To: 0.9, Shape: shape, Low: 150, High: 600, Level: 0.05}
			r, x := murmurAlone(t, h, m, 24*time.Second)
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
