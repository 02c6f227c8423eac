package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A tone has all its power around its frequency, whatever lies between bins.
func TestMeasuresOfATone(t *testing.T) {
	p := NewPeriodogram(1024)
	for _, f := range []float64{50, 101.3, 230.77} {
		tone := p.Estimate(Spectrum{}, tone(800, 0.5, f, 1000), 1000).Band(25, 400)
		s := new(Shape).Of(tone)
		for what, got := range map[string]float64{
			"centroid": s.Centroid(), "median": s.Quantile(0.5), "peak": s.Peak(),
		} {
			if math.Abs(got-f) > 1 {
				t.Errorf("%v Hz: %s %v Hz", f, what, got)
			}
		}
		if s.Spread() > 2 || s.Quantile(0.95)-s.Quantile(0.05) > 4 || s.Entropy() > 0.25 {
			t.Errorf("%v Hz: spread %v Hz, entropy %v", f, s.Spread(), s.Entropy())
		}
		// A tone of amplitude a has the power a²/2.
		if got := tone.Power(); math.Abs(got-0.125) > 1e-3 {
			t.Errorf("%v Hz: power %v, want 0.125", f, got)
		}
	}
}

// ofDensity returns the spectrum with the given density at its bins.
func ofDensity(step float64, bins int, density func(f float64) float64) Spectrum {
	s := Spectrum{Step: step, Density: make([]float64, bins)}
	for k := range s.Density {
		s.Density[k] = density(s.Frequency(k))
	}
	return s
}

// Closed forms of the continuous density e^(−f/c): mean c, standard deviation
// c, quantile −c ln(1 − q); of 1/(f² + c²) up to F: quantile
// c tan(q atan(F/c)).
func TestMeasuresOfClosedForms(t *testing.T) {
	const c, step = 60.0, 0.01
	e := new(Shape).Of(ofDensity(step, 200_000, func(f float64) float64 { return math.Exp(-f / c) }))
	checkClose(t, "exponential", []float64{
		e.Centroid(), e.Spread(), e.Quantile(0.5), e.Quantile(0.85), e.Quantile(0.95), e.Peak(), e.Share(30, 90),
	}, []float64{
		c, c, c * math.Ln2, -c * math.Log(0.15), -c * math.Log(0.05), 0, math.Exp(-0.5) - math.Exp(-1.5),
	}, 0.02)

	const top = 500.0
	l := new(Shape).Of(ofDensity(step, int(top/step), func(f float64) float64 { return 1 / (f*f + c*c) }))
	for _, q := range []float64{0.1, 0.5, 0.85, 0.95} {
		if got, want := l.Quantile(q), c*math.Tan(q*math.Atan(top/c)); math.Abs(got-want) > 0.05 {
			t.Errorf("Lorentzian: quantile %v at %v Hz, want %v Hz", q, got, want)
		}
	}
}

// The slope of one band and then of another, of a spectrum from 0 Hz and of a
// band of it.
func TestSlopeOfPowerLaws(t *testing.T) {
	var shape Shape
	for _, a := range []float64{0, 1, 2, 6} {
		whole := ofDensity(0.5, 1000, func(f float64) float64 { return math.Pow(max(f, 0.5), -a) })
		for _, p := range []Spectrum{whole, whole.Band(30, 420)} {
			s := shape.Of(p)
			for _, band := range [][2]float64{{50, 400}, {0, 500}} {
				// −10 a log10 2 dB an octave: 6.02 dB for a = 2.
				if got, want := s.Slope(band[0], band[1]), -10*a*math.Log10(2); math.Abs(got-want) > 1e-9 {
					t.Errorf("f^-%v at %v Hz: %v dB an octave, want %v", a, band, got, want)
				}
			}
			if got := s.Slope(100, 100.5); !math.IsNaN(got) {
				t.Errorf("slope of one bin %v, want NaN", got)
			}
		}
		whole.Density[300] = 0
		if got := shape.Of(whole).Slope(50, 400); !math.IsNaN(got) {
			t.Errorf("slope over a bin without power %v, want NaN", got)
		}
	}
}

func TestEntropyAndFlatness(t *testing.T) {
	var shape Shape
	flat := shape.Of(ofDensity(1, 300, func(float64) float64 { return 3 }))
	checkClose(t, "flat", []float64{flat.Entropy(), flat.Flatness(), flat.Slope(0, 300)}, []float64{1, 1, 0}, 1e-12)

	density := ofDensity(1, 300, func(f float64) float64 {
		if f == 70 {
			return 1e-7
		}
		return 0
	})
	line := shape.Of(density)
	checkClose(t, "line", []float64{line.Entropy(), line.Flatness(), line.Centroid(), line.Spread(), line.Quantile(0.5), line.Quantile(1)},
		[]float64{0, 0, 70, 0, 70, 70.5}, 1e-12)

	// Two equal lines: ln 2 / ln K.
	density.Density[80] = 1e-7
	line = shape.Of(density)
	checkClose(t, "two lines", []float64{line.Entropy(), line.Spread()}, []float64{math.Ln2 / math.Log(300), 5}, 1e-12)

	// One periodogram of white noise has the flatness e^−γ.
	const bins = 1 << 17
	s := NewPeriodogram(2*bins).Estimate(Spectrum{}, noise(2*bins, 11), 1000)
	s.First, s.Density = 1, s.Density[2:bins]
	const euler = 0.57721566490153286
	if got := shape.Of(s).Flatness(); math.Abs(got-math.Exp(-euler)) > 0.005 {
		t.Errorf("flatness of white noise %v, want %v", got, math.Exp(-euler))
	}
}

func TestMeasuresOfNothing(t *testing.T) {
	for _, p := range []Spectrum{{Step: 1}, {Step: 1, Density: make([]float64, 8)}} {
		s := new(Shape).Of(p)
		for what, got := range map[string]float64{
			"centroid": s.Centroid(), "spread": s.Spread(), "quantile": s.Quantile(0.5), "peak": s.Peak(), "share": s.Share(0, 3),
			"entropy": s.Entropy(), "flatness": s.Flatness(), "slope": s.Slope(0, 8), "share of the spectrum": p.Share(0, 3),
		} {
			if !math.IsNaN(got) {
				t.Errorf("%d bins: %s is %v, want NaN", len(p.Density), what, got)
			}
		}
		if p.Power() != 0 {
			t.Errorf("power %v, want 0", p.Power())
		}
	}
}

func TestFirstAtLeastFindsTheFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 42))
	for range 2000 {
		x := make([]float64, 1+r.IntN(40))
		sum := 0.0
		for i := range x {
			sum += float64(r.IntN(3)) // some are equal, the first ones zero
			x[i] = sum
		}
		for _, v := range []float64{0.5, x[r.IntN(len(x))], sum} {
			want, _ := slices.BinarySearch(x, v)
			if got := firstAtLeast(x, v); 0 < v && v <= sum && got != want {
				t.Fatalf("%v in %v: place %d, want %d", v, x, got, want)
			}
		}
	}
}
