package hsmm

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

func TestSojournDistribution(t *testing.T) {
	var s SojournDistribution
	s.set(2, []float64{0, 1, 2, 0, 1, 0})
	if s.min != 3 || s.max() != 6 {
		t.Fatalf("support %d to %d, want 3 to 6", s.min, s.max())
	}
	if want := 3*0.25 + 4*0.5 + 6*0.25; s.Mean() != want {
		t.Errorf("mean %g, want %g", s.Mean(), want)
	}
	for d, want := range map[int]float64{2: 0, 3: 0.25, 4: 0.5, 5: 0, 6: 0.25, 7: 0} {
		if got := math.Exp(s.logProbability(d)); math.Abs(got-want) > 1e-15 {
			t.Errorf("P(D = %d) = %g, want %g", d, got, want)
		}
	}
	for d, want := range map[int]float64{1: 1, 3: 1, 4: 0.75, 5: 0.25, 6: 0.25, 7: 0} {
		if got := math.Exp(s.logSurvival(d)); math.Abs(got-want) > 1e-15 {
			t.Errorf("P(D ≥ %d) = %g, want %g", d, got, want)
		}
	}
	// Reuse for a shorter distribution must not leave anything behind.
	s.set(1, []float64{1})
	if s.max() != 1 || s.logSurvival(2) != math.Inf(-1) || s.Mean() != 1 {
		t.Errorf("after reuse: %+v", s)
	}
}

// distribution is what testdata/segment/check.py wrote with SciPy.
type distribution struct {
	Mean  float64   `json:"mean"`
	SD    float64   `json:"sd"`
	Low   float64   `json:"low"`
	High  float64   `json:"high"`
	First int       `json:"first"`
	P     []float64 `json:"p"`
}

func loadDistributions(t *testing.T) []distribution {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "segment", "check.json"))
	if err != nil {
		t.Fatal(err)
	}
	var v struct {
		Laws []distribution `json:"laws"`
	}
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	if len(v.Laws) == 0 {
		t.Fatal("no distributions")
	}
	return v.Laws
}

// Against SciPy's normal distribution (Virtanen et al. 2020, Nature Methods 17:261, doi
// 10.1038/s41592-019-0686-2), cut and normalised.
func TestGaussianAgainstSciPy(t *testing.T) {
	var s SojournDistribution
	for _, c := range loadDistributions(t) {
		s.SetGaussian(c.Mean, c.SD, c.Low, c.High)
		if s.min != c.First || s.max() != c.First+len(c.P)-1 {
			t.Errorf("mean %g, SD %g: support %d to %d, want %d to %d", c.Mean, c.SD, s.min, s.max(), c.First, c.First+len(c.P)-1)
			continue
		}
		sum := 0.0
		for k, want := range c.P {
			got := math.Exp(s.logProbability(c.First + k))
			sum += got
			if math.Abs(got/want-1) > 1e-9 {
				t.Errorf("mean %g, SD %g: P(%d) = %g, want %g", c.Mean, c.SD, c.First+k, got, want)
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("mean %g, SD %g: probabilities add up to %g", c.Mean, c.SD, sum)
		}
	}
}

// However little sense the limits make there is one possible sojourn.
func TestGaussianIsNeverEmpty(t *testing.T) {
	for _, c := range []struct {
		mean, sd, low, high float64
		want                int
	}{
		{0.2, 0.1, 0.1, 0.3, 1},  // no whole number within
		{-5, 0.1, -5.3, -4.7, 1}, // none above zero
		{7.5, 0.01, 7.4, 7.6, 8},
		{3, 1e-3, 50, 60, 50}, // all in a tail that rounds to nothing
		{90, 1e-3, 50, 60, 60},
	} {
		var s SojournDistribution
		s.SetGaussian(c.mean, c.sd, c.low, c.high)
		if s.min != c.want || s.max() != c.want {
			t.Errorf("%+v: support %d to %d, want %d alone", c, s.min, s.max(), c.want)
		}
	}
}

// A widened distribution is the mixture of the two, and covers both.
func TestWiden(t *testing.T) {
	var s, plain SojournDistribution
	s.SetGaussian(20, 2, 13, 27)
	plain.SetGaussian(20, 2, 13, 27)
	s.Widen(3, 50.5, 0.1)
	sum := 0.0
	for d := 1; d <= 60; d++ {
		want := 0.0
		if d >= 3 && d <= 50 {
			want = 0.1/48 + 0.9*math.Exp(plain.logProbability(d))
		}
		got := math.Exp(s.logProbability(d))
		sum += got
		if math.Abs(got-want) > 1e-12 {
			t.Errorf("P(%d) = %g, want %g", d, got, want)
		}
	}
	if math.Abs(sum-1) > 1e-12 || s.max() != 50 {
		t.Errorf("probabilities up to %d add up to %g", s.max(), sum)
	}
	s.SetGaussian(20, 2, 13, 27)
	s.Widen(15, 18, 0.5) // within: nothing is lost
	if s.min != plain.min || s.max() != plain.max() {
		t.Errorf("support [%d, %d], want [%d, %d]", s.min, s.max(), plain.min, plain.max())
	}
}
