package segment

import (
	"math"
	"testing"

	"phonocycle/pipeline/segment/option"
)

func TestLagPeaks(t *testing.T) {
	parabola := func(n int, at float64) []float64 {
		r := make([]float64, n)
		for i := range r {
			r[i] = -(float64(i) - at) * (float64(i) - at)
		}
		return r
	}
	for _, c := range []struct {
		name      string
		r         []float64
		low, high float64
		want      float64
	}{
		{"refined between samples", parabola(20, 7.3), 2, 15, 7.3},
		{"falling: the first", []float64{9, 8, 7, 6, 5, 4}, 2, 4, 2},
		{"a maximum beats a larger slope", []float64{9, 8, 3, 4, 3, 2, 1}, 1, 5, 3},
		{"plateau: its start", []float64{0, 1, 2, 2, 1, 0}, 1, 4, 2.5},
		{"no index within", parabola(20, 7), 3.2, 3.8, 3.5},
		{"limits beyond the ends", parabola(10, 4), -5, 50, 4},
	} {
		if got := lagPeaks(c.r, c.low, c.high)[0].lag; math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g, want %g", c.name, got, c.want)
		}
	}
}

// An envelope with a sound every cycle and another after the systolic interval
// gives both back, from 40 to 200 beats a minute. In the fastest, systole is half
// the cycle: the autocorrelation has the same peak for both halves, and near that
// cannot tell them apart.
func TestRhythmOfAnEnvelope(t *testing.T) {
	var f rhythmFinder
	for _, h := range []rhythm{{1.5, 0.4}, {1, 0.35}, {0.75, 0.3}, {0.5, 0.21}, {0.4, 0.165}, {0.3, 0.15}} {
		envelope := make([]float64, 1000)
		for t := range envelope {
			at := float64(t) / frameRate
			for k := 0; float64(k)*h.cycle < 21; k++ {
				for i, centre := range []float64{float64(k) * h.cycle, float64(k)*h.cycle + h.systole} {
					u := (at - centre) / 0.025
					envelope[t] += (1 - 0.4*float64(i)) * math.Exp(-u*u/2)
				}
			}
		}
		got := f.find(envelope, defaultRates(), 1)[0]
		if math.Abs(got.cycle-h.cycle) > 0.005 || math.Abs(got.systole-h.systole) > 0.016 {
			t.Errorf("cycle and systole %.3f, %.3f s, want %.3f, %.3f", got.cycle, got.systole, h.cycle, h.systole)
		}
	}
}

func TestRatesRefuse(t *testing.T) {
	for _, r := range []Rates{{}, {5, 100}, {100, 100}, {30, 500}, {math.NaN(), 100}, {30, math.NaN()}} {
		if option.Check(r.options(nil, nil, option.Source{})) == nil {
			t.Errorf("rates %+v pass", r)
		}
	}
}
