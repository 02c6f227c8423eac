package audio

import (
	"encoding/json"
	"math"
	"testing"
)

// checkValues is testdata/audio/resample.json, which resample.py made with
// SciPy and NumPy.
type checkValues struct {
	Versions struct{ Python, NumPy, SciPy string }
	Window   struct {
		Attenuation float64 `json:"attenuation_db"`
		Beta        float64
		OrdWidth    float64 `json:"ord_width"` // fraction of half the rate
		OrdLength   int     `json:"ord_length"`
		I0          [][2]float64
	}
	Resampled []struct {
		Rate, Frames int
		Method       string
		Y            []float64
	}
}

func loadCheckValues(t *testing.T) checkValues {
	t.Helper()
	var v checkValues
	if err := json.Unmarshal(fixture(t, "resample.json"), &v); err != nil {
		t.Fatal(err)
	}
	if v.Versions.SciPy == "" || len(v.Window.I0) == 0 || len(v.Resampled) == 0 {
		t.Fatal("resample.json is incomplete")
	}
	return v
}

// TestKaiserAgainstSciPy compares the window with scipy.special.i0,
// scipy.signal.kaiser_beta and scipy.signal.kaiserord, which implement the
// formulas of Kaiser (1974).
func TestKaiserAgainstSciPy(t *testing.T) {
	w := loadCheckValues(t).Window
	for _, zi := range w.I0 {
		z, want := zi[0], zi[1]
		if got := besselI0(z); math.Abs(got-want) > 1e-14*want {
			t.Errorf("I₀(%v) = %v, want %v", z, got, want)
		}
	}
	if w.Attenuation != attenuation {
		t.Fatalf("check values are for %v dB, the filter has %v", w.Attenuation, attenuation)
	}
	if got := kaiserBeta(attenuation); math.Abs(got-w.Beta) > 1e-12 {
		t.Errorf("β = %v, want %v", got, w.Beta)
	}
	// kaiserord counts taps, one more than the length in samples, and gives
	// its width as a fraction of half the rate.
	if got := int(math.Ceil(kaiserLength(attenuation, w.OrdWidth/2) + 1)); got != w.OrdLength {
		t.Errorf("%d taps, want %d", got, w.OrdLength)
	}
}

func TestKernelIsEven(t *testing.T) {
	for _, from := range []int{500, 2000, 44100} {
		k := newKernel(from, 1000)
		for _, u := range []float64{0, 0.1, 0.5, 0.999, 1, 1.5} {
			if a, b := k.at(u*k.half), k.at(-u*k.half); a != b {
				t.Errorf("%d Hz: h(%v) = %v, h(−%[2]v) = %[4]v", from, u*k.half, a, b)
			}
		}
		if k.at(k.half) != 0 {
			t.Errorf("%d Hz: h does not end at %v", from, k.half)
		}
	}
}
