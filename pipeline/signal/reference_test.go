package signal

import (
	"encoding/json"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// reference holds the values that testdata/signal/filters.py wrote with SciPy
// (Virtanen et al. 2020, Nature Methods 17:261, doi 10.1038/s41592-019-0686-2).
type reference struct {
	SciPy   string    `json:"scipy"`
	FS      float64   `json:"fs"`
	X       []float64 `json:"x"`
	Filters []struct {
		Kind        string    `json:"kind"`
		Order       int       `json:"order"`
		Edges       []float64 `json:"edges"`
		Frequencies []float64 `json:"frequencies"`
		Re          []float64 `json:"re"`
		Im          []float64 `json:"im"`
		Forward     []float64 `json:"forward"`
		Padding     int       `json:"padding"`
		ZeroPhase   []float64 `json:"zero_phase"`
	} `json:"filters"`
	Quadrature  []float64 `json:"quadrature"`
	Envelope    []float64 `json:"envelope"`
	Homomorphic []float64 `json:"homomorphic_8_hz"`
}

func loadReference(t *testing.T) *reference {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "signal", "filters.json"))
	if err != nil {
		t.Fatal(err)
	}
	var r reference
	if err := json.Unmarshal(b, &r); err != nil {
		t.Fatal(err)
	}
	return &r
}

func design(t *testing.T, kind string, order int, edges []float64, fs float64) SOS {
	t.Helper()
	var sos SOS
	var err error
	switch kind {
	case "lowpass":
		sos, err = ButterworthLowPass(order, edges[0], fs)
	default:
		sos, err = ButterworthBandPass(order, edges[0], edges[1], fs)
	}
	if err != nil {
		t.Fatal(err)
	}
	return sos
}

// response returns the complex frequency response at f hertz for a sampling rate of
// fs hertz.
func response(s SOS, f, fs float64) complex128 {
	inv := cmplx.Exp(complex(0, -2*math.Pi*f/fs))
	h := complex(1, 0)
	for i := range s {
		h *= s[i].response(inv)
	}
	return h
}

// forwards runs x through the cascade once, from rest.
func forwards(s SOS, x []float64) []float64 {
	y := slices.Clone(x)
	for i := range s {
		run(&s[i], y, 0, 0)
	}
	return y
}

// run filters x in place in the transposed direct form II, from the state
// (z1, z2).
func run(s *Section, x []float64, z1, z2 float64) {
	b0, b1, b2, a1, a2 := s.B[0], s.B[1], s.B[2], s.A[0], s.A[1]
	for i, v := range x {
		y := b0*v + z1
		z1 = b1*v - a1*y + z2
		z2 = b2*v - a2*y
		x[i] = y
	}
}

// farthest returns the largest difference of two sequences.
func farthest(t *testing.T, got, want []float64) float64 {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d values, want %d", len(got), len(want))
	}
	worst := 0.0
	for i := range got {
		worst = math.Max(worst, math.Abs(got[i]-want[i]))
		if math.IsNaN(got[i]) {
			return math.NaN()
		}
	}
	return worst
}

func TestFiltersAgainstSciPy(t *testing.T) {
	r := loadReference(t)
	for _, f := range r.Filters {
		sos := design(t, f.Kind, f.Order, f.Edges, r.FS)
		for i, hz := range f.Frequencies {
			got, want := response(sos, hz, r.FS), complex(f.Re[i], f.Im[i])
			if !(cmplx.Abs(got-want) < 1e-11) {
				t.Errorf("%s %d %v: response at %g Hz is %v, want %v", f.Kind, f.Order, f.Edges, hz, got, want)
			}
		}
		if d := farthest(t, forwards(sos, r.X), f.Forward); !(d < 1e-11) {
			t.Errorf("%s %d %v: forward filtering is off by %g", f.Kind, f.Order, f.Edges, d)
		}
		z := NewZeroPhase(sos)
		if got := min(z.pad, len(r.X)-1); got != f.Padding {
			t.Errorf("%s %d %v: extension of %d samples, want %d", f.Kind, f.Order, f.Edges, got, f.Padding)
		}
		if d := farthest(t, z.Filter(nil, r.X), f.ZeroPhase); !(d < 1e-11) {
			t.Errorf("%s %d %v: zero-phase filtering is off by %g", f.Kind, f.Order, f.Edges, d)
		}
	}
}

func TestEnvelopesAgainstSciPy(t *testing.T) {
	r := loadReference(t)
	a := NewAnalytic()
	if d := farthest(t, a.hilbert(nil, r.X), r.Quadrature); !(d < 1e-13) {
		t.Errorf("quadrature is off by %g", d)
	}
	if d := farthest(t, a.Envelope(nil, r.X), r.Envelope); !(d < 1e-13) {
		t.Errorf("Hilbert envelope is off by %g", d)
	}
	h, err := NewHomomorphic(8, r.FS)
	if err != nil {
		t.Fatal(err)
	}
	if d := farthest(t, h.Smooth(nil, a.Envelope(nil, r.X)), r.Homomorphic); !(d < 1e-13) {
		t.Errorf("homomorphic envelope is off by %g", d)
	}
}
