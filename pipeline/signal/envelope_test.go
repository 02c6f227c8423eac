package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

func tone(n int, amplitude, f, fs float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * math.Cos(2*math.Pi*f*float64(i)/fs+0.4)
	}
	return x
}

func noise(n int, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

func homomorphicOf(h *Homomorphic, x []float64) []float64 {
	return h.Smooth(nil, NewAnalytic().Envelope(nil, x))
}

// The Hilbert envelope and the homomorphic envelope of a tone of amplitude A are
// A. Lengths are such that neither the tone nor the transform fits evenly; a
// tone has a kink in the mirrors at the ends, whose effect falls as 1/(ω·distance).
func TestEnvelopesOfATone(t *testing.T) {
	const fs, amplitude = 1000.0, 0.37
	h, err := NewHomomorphic(8, fs)
	if err != nil {
		t.Fatal(err)
	}
	a := NewAnalytic()
	for _, n := range []int{3001, 4096, 9973} {
		for _, f := range []float64{30.3, 77.7, 201.1} {
			x := tone(n, amplitude, f, fs)
			for name, e := range map[string][]float64{"Hilbert": a.Envelope(nil, x), "homomorphic": homomorphicOf(h, x)} {
				for i := 200; i < n-200; i++ {
					radians := 2 * math.Pi * f / fs * float64(min(i, n-i))
					if math.Abs(e[i]/amplitude-1) > 1/radians {
						t.Fatalf("%s envelope of a tone of %g Hz in %d samples: %g at %d, want %g", name, f, n, e[i], i, amplitude)
					}
				}
			}
		}
	}
}

// Without the analytic signal the homomorphic envelope of a tone would be A/2,
// since the mean of ln|cos| over a period is −ln 2.
func TestHomomorphicOfARectifiedTone(t *testing.T) {
	const fs, amplitude = 1000.0, 0.8
	h, err := NewHomomorphic(4, fs)
	if err != nil {
		t.Fatal(err)
	}
	x := tone(8000, amplitude, 101.3, fs)
	for i, v := range x {
		x[i] = math.Abs(v)
	}
	e := h.Smooth(nil, x)
	sum := 0.0
	for _, v := range e[2000:6000] {
		sum += math.Log(v)
	}
	if got := math.Exp(sum / 4000); math.Abs(got/(amplitude/2)-1) > 1e-2 {
		t.Errorf("geometric mean of the envelope %g, want %g", got, amplitude/2)
	}
}

func TestHomomorphicFollowsGain(t *testing.T) {
	h, err := NewHomomorphic(8, 1000)
	if err != nil {
		t.Fatal(err)
	}
	x := noise(3000, 7)
	e := homomorphicOf(h, x)
	for _, c := range []float64{1e-6, 0.25, 300} {
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = -c * v
		}
		for i, v := range homomorphicOf(h, y) {
			if math.Abs(v/(c*e[i])-1) > 1e-9 {
				t.Fatalf("gain −%g: envelope %g at %d, want %g", c, v, i, c*e[i])
			}
		}
	}
	if e := homomorphicOf(h, make([]float64, 100)); e[50] != 0 {
		t.Errorf("envelope of silence is %g", e[50])
	}
}

// Stretches of exact zeros must not pull the envelope to nothing or to NaN.
func TestHomomorphicOfZeros(t *testing.T) {
	h, err := NewHomomorphic(8, 1000)
	if err != nil {
		t.Fatal(err)
	}
	x := tone(3000, 1, 60, 1000)
	clear(x[1000:2000])
	for i, v := range homomorphicOf(h, x) {
		if !(v > 0 && v < 1.5) {
			t.Fatalf("envelope %g at %d", v, i)
		}
	}
}

// f(x) = −x² ln x² has its maximum 1/e at |x| = e^(−1/2).
func TestShannonEnergy(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{
		{0, 0}, {1, 0}, {-1, 0}, {1.5, 0}, {math.Exp(-0.5), 1 / math.E}, {-math.Exp(-0.5), 1 / math.E},
		{0.5, 0.25 * math.Log(4)},
	} {
		if got := shannonEnergy(c.x); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("Shannon energy of %g is %.17g, want %.17g", c.x, got, c.want)
		}
	}
	for x := 0.0; x <= 1; x += 1e-3 {
		if got := shannonEnergy(x); got > 1/math.E+1e-15 {
			t.Errorf("Shannon energy of %g is %g, above the maximum", x, got)
		}
	}
	// Frames of 4 samples every 2: the first and the last reach over the ends.
	x := []float64{0.5, 0.5, 0, 0, 0, 0, 0}
	e := ShannonEnergy(nil, x, 4, 2)
	f := shannonEnergy(0.5)
	want := []float64{2 * f / 3, f / 4, 0, 0}
	for i := range want {
		if math.Abs(e[i]-want[i]) > 1e-15 {
			t.Errorf("frame %d: %g, want %g", i, e[i], want[i])
		}
	}
}

func TestStandardise(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5}
	Standardise(x)
	mean, sd := MeanSD(x)
	if math.Abs(mean) > 1e-15 || math.Abs(sd-1) > 1e-15 || math.Abs(x[4]-math.Sqrt2) > 1e-15 {
		t.Errorf("standardised to %v", x)
	}
	flat := []float64{2, 2}
	Standardise(flat)
	if flat[0] != 0 || flat[1] != 0 {
		t.Errorf("a constant is standardised to %v, want zeros", flat)
	}
}

func TestFrameMeans(t *testing.T) {
	got := FrameMeans(nil, []float64{1, 3, 5, 7, 9}, 2)
	for i, want := range []float64{2, 6, 9} {
		if got[i] != want {
			t.Errorf("frame %d: %g, want %g", i, got[i], want)
		}
	}
}

// A tone at a frequency of the band has the power A²/2 there.
func TestBandPower(t *testing.T) {
	const fs, amplitude = 1000.0, 0.6
	one := NewBandPower(100, 100, fs, 50, 20)
	for i, p := range one.Frames(nil, tone(1000, amplitude, 100, fs)) {
		if i > 1 && i < 48 && math.Abs(p/(amplitude*amplitude/2)-1) > 1e-3 {
			t.Errorf("frame %d of a tone: power %g, want %g", i, p, amplitude*amplitude/2)
		}
	}
	// The two frequencies of 40 to 60 Hz see a tone between them, and next to
	// nothing of one an octave and a half above.
	band := NewBandPower(40, 60, fs, 50, 20)
	if len(band.carriers) != 2 {
		t.Fatalf("%d frequencies from 40 to 60 Hz in steps of 20 Hz, want 2", len(band.carriers))
	}
	in := band.Frames(nil, tone(1000, 1, 50, fs))[25]
	out := band.Frames(nil, tone(1000, 1, 150, fs))[25]
	if in < 0.15 || out > 1e-3*in {
		t.Errorf("power %g in the band, %g of a tone outside", in, out)
	}
}

// Frames are what the definition says, at the ends and of signals shorter than a
// frame, whether a frame is longer than the hop or shorter.
func TestBandPowerAtTheEnds(t *testing.T) {
	for _, width := range []int{50, 10} {
		b := NewBandPower(100, 100, 1000, width, 20)
		for n := range 130 {
			x := tone(n, 1, 110, 1000)
			got := b.Frames(nil, x)
			if len(got) != (n+19)/20 {
				t.Fatalf("%d frames of %d samples", len(got), n)
			}
			for frame, p := range got {
				var re, im float64
				for i := range width {
					v := x[mirror(frame*20+10-width/2+i, n)]
					re += v * b.carriers[0][0][i]
					im += v * b.carriers[0][1][i]
				}
				if want := re*re + im*im; math.Abs(p-want) > 1e-12 {
					t.Fatalf("width %d, %d samples, frame %d: %g, want %g", width, n, frame, p, want)
				}
			}
		}
	}
}
