package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Cohen, Daubechies and Feauveau 1992 (doi 10.1002/cpa.3160450502): the two
// low-pass filters are biorthogonal at even shifts.
func TestReverseBiorthogonalFilters(t *testing.T) {
	low, high, synLow, synHigh := ReverseBiorthogonal39()
	if len(low) != 4 || len(high) != 20 || len(synLow) != 20 || len(synHigh) != 4 {
		t.Fatalf("lengths %d %d %d %d, want 4 20 20 4", len(low), len(high), len(synLow), len(synHigh))
	}
	product := func(a, b []float64, shift int) float64 {
		sum := 0.0
		for i, v := range a {
			if j := i + (len(b)-len(a))/2 + shift; j >= 0 && j < len(b) {
				sum += v * b[j]
			}
		}
		return sum
	}
	for m := -6; m <= 6; m++ {
		want := 0.0
		if m == 0 {
			want = 1
		}
		if got := product(low, synLow, 2*m); math.Abs(got-want) > 1e-14 {
			t.Errorf("low-pass pair at shift %d: %g, want %g", 2*m, got, want)
		}
		if got := product(high, synHigh, 2*m); math.Abs(got-want) > 1e-14 {
			t.Errorf("high-pass pair at shift %d: %g, want %g", 2*m, got, want)
		}
		if got := product(low, synHigh, 2*m); math.Abs(got) > 1e-14 {
			t.Errorf("analysis low against synthesis high at shift %d: %g, want 0", 2*m, got)
		}
		if got := product(synLow, high, 2*m); math.Abs(got) > 1e-14 {
			t.Errorf("synthesis low against analysis high at shift %d: %g, want 0", 2*m, got)
		}
	}
	// Low-passes sum to √2; the filters of order 3 and 9 have as many zeros at
	// half the sampling rate, which are the moments of the high-passes.
	for name, h := range map[string][]float64{"analysis": low, "synthesis": synLow} {
		sum := 0.0
		for _, v := range h {
			sum += v
		}
		if math.Abs(sum-math.Sqrt2) > 1e-14 {
			t.Errorf("%s low-pass sums to %.17g, want √2", name, sum)
		}
	}
	for _, c := range []struct {
		name    string
		h       []float64
		moments int
	}{{"analysis", high, 9}, {"synthesis", synHigh, 3}} {
		moment := func(p int) float64 {
			sum := 0.0
			for i, v := range c.h {
				sum += v * math.Pow((float64(i)-float64(len(c.h)-1)/2)/10, float64(p))
			}
			return sum
		}
		for p := 0; p < c.moments; p++ {
			if m := moment(p); math.Abs(m) > 1e-13 {
				t.Errorf("%s high-pass: moment %d is %g, want 0", c.name, p, m)
			}
		}
		if m := moment(c.moments); math.Abs(m) < 1e-6 {
			t.Errorf("%s high-pass: moment %d vanishes too", c.name, c.moments)
		}
	}
}

// An undecimated level is inverted by the adjoint of the other pair: half the
// sum of the two branches is the signal.
func TestWaveletPerfectReconstruction(t *testing.T) {
	low, high, synLow, synHigh := ReverseBiorthogonal39()
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 400)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	for _, spread := range []int{1, 2, 4} {
		back := make([]float64, len(x))
		for _, branch := range []struct{ analysis, synthesis []float64 }{{low, synLow}, {high, synHigh}} {
			c := make([]float64, len(x))
			ahead := correlate(c, x, branch.analysis, spread, 0)
			first := int(float64(spread*(len(branch.analysis)-1))/2 - ahead)
			extra := (len(branch.synthesis) - len(branch.analysis)) / 2
			for m, v := range c {
				for k, h := range branch.synthesis {
					if n := m - first + (k-extra)*spread; n >= 0 && n < len(x) {
						back[n] += v * h / 2
					}
				}
			}
		}
		const edge = 100
		for i := edge; i < len(x)-edge; i++ {
			if math.Abs(back[i]-x[i]) > 1e-13 {
				t.Fatalf("spread %d: sample %d comes back as %g, was %g", spread, i, back[i], x[i])
			}
		}
	}
}

func TestWaveletDetailOfPolynomialVanishes(t *testing.T) {
	low, high, _, _ := ReverseBiorthogonal39()
	x := make([]float64, 400)
	for i := range x {
		x[i] = math.Pow(float64(i-200)/200, 8)
	}
	d := NewWavelet(low, high, 3).Detail(nil, x)
	for i := 100; i < 300; i++ {
		if math.Abs(d[i]) > 1e-12 {
			t.Fatalf("detail %d of a polynomial of degree 8 is %g, want 0", i, d[i])
		}
	}
}

// Detail coefficients are aligned with the signal: those of a symmetric burst
// are symmetric about its middle to half a sample.
func TestWaveletAlignment(t *testing.T) {
	low, high, _, _ := ReverseBiorthogonal39()
	x := make([]float64, 1000)
	for i := range x {
		u := float64(i - 500)
		x[i] = math.Exp(-u*u/800) * math.Cos(2*math.Pi*90*u/1000)
	}
	d := NewWavelet(low, high, 3).Detail(nil, x)
	num, den := 0.0, 0.0
	for i, v := range d {
		num += float64(i) * v * v
		den += v * v
	}
	if c := num / den; math.Abs(c-500) > 0.5+1e-9 {
		t.Errorf("details of a burst at sample 500 are centred on %.4f, want within half a sample", c)
	}
}
