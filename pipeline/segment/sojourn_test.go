package segment

import (
	"math"
	"testing"
)

// Against SciPy's normal law (Virtanen et al. 2020, Nature Methods 17:261, doi
// 10.1038/s41592-019-0686-2), cut and normalised.
func TestGaussianLawAgainstSciPy(t *testing.T) {
	var l Law
	for _, c := range loadCheckValues(t).Laws {
		l.SetGaussian(c.Mean, c.SD, c.Low, c.High)
		if l.Min() != c.First || l.Max() != c.First+len(c.P)-1 {
			t.Errorf("mean %g, SD %g: support %d to %d, want %d to %d", c.Mean, c.SD, l.Min(), l.Max(), c.First, c.First+len(c.P)-1)
			continue
		}
		sum := 0.0
		for k, want := range c.P {
			got := math.Exp(l.LogP(c.First + k))
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
func TestGaussianLawIsNeverEmpty(t *testing.T) {
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
		var l Law
		l.SetGaussian(c.mean, c.sd, c.low, c.high)
		if l.Min() != c.want || l.Max() != c.want {
			t.Errorf("%+v: support %d to %d, want %d alone", c, l.Min(), l.Max(), c.want)
		}
	}
}

// The silences fill what the sounds leave of systole and cycle.
func TestPublishedTiming(t *testing.T) {
	p := SchmidtTiming()
	var laws Laws
	for _, h := range []Hypothesis{{1, 0.35}, {0.75, 0.3}, {1.6, 0.4}} {
		p.Laws(&laws, h)
		// In frames, the cuts being symmetric, the mean of each law is its mean to
		// the rounding of the cuts.
		for j, want := range []float64{p.S1, h.Systole - p.S1, p.S2, h.Cycle - h.Systole - p.S2} {
			if got := laws[j].Mean() / FrameRate; math.Abs(got-want) > 0.002 {
				t.Errorf("%+v: state %d lasts %.4f s on average, want %.4f", h, j, got, want)
			}
		}
		if got := laws.cycle() / FrameRate; math.Abs(got-h.Cycle) > 0.004 {
			t.Errorf("%+v: the cycle lasts %.4f s on average", h, got)
		}
	}
	// At the fastest rate little room is left for diastole, but some is.
	p.Laws(&laws, Hypothesis{60.0 / 220, 0.14})
	for j := range laws {
		if laws[j].Min() < 1 || laws[j].Mean() < 1 {
			t.Errorf("220/min: state %d may last %d frames, %g on average", j, laws[j].Min(), laws[j].Mean())
		}
	}
}

func TestLawsDoNotAllocate(t *testing.T) {
	p := SchmidtTiming()
	var laws Laws
	p.Laws(&laws, Hypothesis{2, 0.5})
	if n := testing.AllocsPerRun(10, func() { p.Laws(&laws, Hypothesis{0.8, 0.3}) }); n != 0 {
		t.Errorf("%g allocations a call, want none", n)
	}
}
