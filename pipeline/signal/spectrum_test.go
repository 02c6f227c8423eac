package signal

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/mjibson/go-dsp/spectral"
)

// spectra are the check values of ../../testdata/features/make_spectra.py,
// SciPy 1.10.1.
type spectra struct {
	X           []float64 `json:"x"`
	Periodogram []float64 `json:"periodogram_512"`
	Long        []float64 `json:"periodogram_128"`
	Welch       []float64 `json:"welch_64_40"`
	DCT         []float64 `json:"dct_20"`
}

func loadSpectra(t *testing.T) spectra {
	t.Helper()
	b, err := os.ReadFile("../../testdata/features/spectra.json")
	if err != nil {
		t.Fatal(err)
	}
	var s spectra
	if err := json.Unmarshal(b, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

func checkClose(t *testing.T, what string, got, want []float64, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= tolerance) {
			t.Errorf("%s: value %d is %.15g, want %.15g", what, i, got[i], want[i])
		}
	}
}

func TestSpectraAgainstSciPy(t *testing.T) {
	ref := loadSpectra(t)
	const fs = 1000
	for _, c := range []struct {
		what string
		got  Spectrum
		want []float64
		step float64
	}{
		{"padded periodogram", NewPeriodogram(512).Estimate(Spectrum{}, ref.X, fs), ref.Periodogram, fs / 512.0},
		{"periodogram longer than the grid", NewPeriodogram(128).Estimate(Spectrum{}, ref.X, fs), ref.Long, fs / 128.0},
		{"Welch", NewWelch(64, 40).Estimate(Spectrum{}, ref.X, fs), ref.Welch, fs / 64.0},
	} {
		checkClose(t, c.what, c.got.Density, c.want, 1e-15)
		if c.got.Step != c.step || c.got.First != 0 {
			t.Errorf("%s: bins from %d, %v Hz apart, want 0 and %v Hz", c.what, c.got.First, c.got.Step, c.step)
		}
	}
}

// The sum over all bins is the mean square of the samples as weighted, whether
// the stretch is shorter than the grid or longer (Parseval's theorem; for a longer
// one the mean over its segments, summed here in the plain way).
func TestPeriodogramHoldsThePower(t *testing.T) {
	const n, fs = 128, 1000.0
	for _, length := range []int{2, 50, 127, 128, 129, 192, 193, 300, 1000} {
		x := noise(length, uint64(length))
		segments := [][]float64{x}
		if length > n {
			m := (2*(length-n) + n - 1) / n
			segments = nil
			for i := range m + 1 {
				from := int(math.Floor(float64(i*(length-n))/float64(m) + 0.5))
				segments = append(segments, x[from:from+n])
			}
			if last := segments[m]; &last[n-1] != &x[length-1] {
				t.Fatalf("%d samples: the last segment does not end with them", length)
			}
		}
		var want float64
		for _, s := range segments {
			mean, _ := MeanSD(s)
			var power, weight float64
			for i, v := range s {
				w := (1 - math.Cos(2*math.Pi*float64(i)/float64(len(s)))) / 2
				power += w * w * (v - mean) * (v - mean)
				weight += w * w
			}
			want += power / weight / float64(len(segments))
		}
		got := NewPeriodogram(n).Estimate(Spectrum{}, x, fs).Power()
		if !(math.Abs(got-want) <= 1e-12*want) {
			t.Errorf("%d samples: power %v, want %v", length, got, want)
		}
	}
}

// The Welch estimator of go-dsp removes no mean; on segments without one the
// two must agree.
func TestWelchAgainstGoDSP(t *testing.T) {
	const n, segments = 128, 5
	x := noise(n*segments, 3)
	for s := range segments {
		part := x[s*n : (s+1)*n]
		m, _ := MeanSD(part)
		for i := range part {
			part[i] -= m
		}
	}
	periodic := func(n int) []float64 {
		w := make([]float64, n)
		for i := range w {
			w[i] = math.Pow(math.Sin(math.Pi*float64(i)/float64(n)), 2)
		}
		return w
	}
	want, _ := spectral.Pwelch(x, 2000, &spectral.PwelchOptions{NFFT: n, Window: periodic})
	got := NewWelch(n, 0).Estimate(Spectrum{}, x, 2000)
	checkClose(t, "Welch", got.Density, want, 1e-14)
}

// A stretch shorter than the grid keeps its windowed power (Parseval).
func TestPeriodogramPower(t *testing.T) {
	for _, n := range []int{2, 3, 57, 255, 256} {
		x := noise(n, uint64(n))
		m, _ := MeanSD(x)
		var power, weight float64
		for i, v := range x {
			w := (1 - math.Cos(2*math.Pi*float64(i)/float64(n))) / 2
			power += w * w * (v - m) * (v - m)
			weight += w * w
		}
		got := NewPeriodogram(256).Estimate(Spectrum{}, x, 4000).Power()
		if want := power / weight; math.Abs(got-want) > 1e-12*want {
			t.Errorf("%d samples: power %v, want %v", n, got, want)
		}
	}
}

func TestPeriodogramOfNothing(t *testing.T) {
	p := NewPeriodogram(64)
	for _, x := range [][]float64{nil, {1}} {
		if s := p.Estimate(Spectrum{}, x, 1000); s.Power() != 0 || len(s.Density) != 33 {
			t.Errorf("%d samples: power %v in %d bins, want 0 in 33", len(x), s.Power(), len(s.Density))
		}
	}
}

func TestSpectraDoNotAllocate(t *testing.T) {
	x := noise(700, 1)
	p, w := NewPeriodogram(512), NewWelch(256, 128)
	m := NewMelCepstrum(20, 13, 25, 400, 1000/512.0)
	var s Spectrum
	c := make([]float64, 13)
	s = p.Estimate(s, x, 1000)
	if n := testing.AllocsPerRun(20, func() {
		for _, k := range []int{90, 700, 120} {
			s = p.Estimate(s, x[:k], 1000)
			m.Transform(c, s)
		}
		s = w.Estimate(s, x, 1000)
	}); n != 0 {
		t.Errorf("%v allocations a run", n)
	}
}

// Bands that share an edge share no bin, and together hold all power.
func TestBandsTile(t *testing.T) {
	for _, step := range []float64{0.1, 1000 / 1024.0, 1, 44100 / 65536.0, 2.5} {
		s := ofDensity(step, int(500/step), func(f float64) float64 { return 1 + math.Sin(f) })
		whole := s.Band(25, 400)
		var share float64
		bins := 0
		for _, b := range [][2]float64{{25, 45}, {45, 80}, {80, 200}, {200, 400}} {
			part := s.Band(b[0], b[1])
			share += whole.Share(b[0], b[1])
			bins += len(part.Density)
			first, last := part.Frequency(0), part.Frequency(len(part.Density)-1)
			if first < b[0] || first-step >= b[0] || last >= b[1] || last+step < b[1] {
				t.Errorf("step %v: band %v has bins from %v to %v Hz", step, b, first, last)
			}
		}
		if bins != len(whole.Density) || math.Abs(share-1) > 1e-12 {
			t.Errorf("step %v: %d of %d bins, share %v", step, bins, len(whole.Density), share)
		}
	}
	s := ofDensity(1, 10, func(float64) float64 { return 1 })
	if n := len(s.Band(20, 30).Density) + len(s.Band(-5, 0).Density) + len(s.Band(5, 2).Density); n != 0 {
		t.Errorf("bands outside have %d bins", n)
	}
}

// The decimator leaves tones of the band alone, in place, and takes 70 dB off
// what would fold onto it.
func TestDecimator(t *testing.T) {
	for _, c := range []struct {
		rate   float64
		factor int
	}{{4000, 2}, {8000, 4}, {44100, 22}, {48000, 24}} {
		d := NewDecimator(c.factor, 800, c.rate)
		low := c.rate / float64(c.factor)
		n := int(c.rate)
		for _, f := range []float64{0, 25, 400, 800} {
			x := cosine(n, f, c.rate)
			got := d.Decimate(nil, x)
			if want := (n + c.factor - 1) / c.factor; len(got) != want {
				t.Fatalf("%v Hz by %d: %d samples, want %d", c.rate, c.factor, len(got), want)
			}
			for m := 100; m < len(got)-100; m++ {
				if want := x[m*c.factor]; math.Abs(got[m]-want) > 2e-3 {
					t.Fatalf("%v Hz by %d: %v Hz: sample %d is %v, want %v", c.rate, c.factor, f, m, got[m], want)
				}
			}
		}
		for _, f := range []float64{low - 800, low - 400, low, min(low+800, c.rate/2)} {
			got := d.Decimate(nil, cosine(n, f, c.rate))
			for m := 100; m < len(got)-100; m++ {
				if math.Abs(got[m]) > 3.2e-4 { // −70 dB
					t.Fatalf("%v Hz by %d: %v Hz folds with %v", c.rate, c.factor, f, got[m])
				}
			}
		}
	}
	x := noise(50, 1)
	checkClose(t, "factor 1", NewDecimator(1, 800, 2000).Decimate(nil, x), x, 0)
}

func cosine(n int, f, fs float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Cos(2 * math.Pi * f * float64(i) / fs)
	}
	return x
}

func BenchmarkPeriodogram(b *testing.B) {
	x := noise(120, 1)
	p := NewPeriodogram(1024)
	var s Spectrum
	b.ReportAllocs()
	for range b.N {
		s = p.Estimate(s, x, 1000)
	}
}
