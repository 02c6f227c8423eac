package signal

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"
)

// The magnitude of a Butterworth filter after the bilinear transform is known in
// closed form; see ButterworthLowPass and ButterworthBandPass.
func TestButterworthMagnitude(t *testing.T) {
	const fs = 1000.0
	u := func(f float64) float64 { return math.Tan(math.Pi * f / fs) }
	square := func(ratio float64, order int) float64 { return 1 / math.Sqrt(1+math.Pow(ratio, float64(2*order))) }
	for order := 1; order <= 6; order++ {
		for _, edges := range [][2]float64{{25, 400}, {40, 60}, {1, 499}, {100, 101}} {
			low, high := edges[0], edges[1]
			for _, c := range []struct {
				kind  string
				edges []float64
				want  func(f float64) float64
			}{
				{"lowpass", []float64{low}, func(f float64) float64 { return square(u(f)/u(low), order) }},
				{"bandpass", []float64{low, high}, func(f float64) float64 {
					return square((u(f)*u(f)-u(low)*u(high))/(u(f)*(u(high)-u(low))), order)
				}},
			} {
				sos := design(t, c.kind, order, c.edges, fs)
				for _, f := range []float64{0.7, 10, 25, 50, 99.5, 100.5, 123, 300, 400, 470} {
					got, want := cmplx.Abs(response(sos, f, fs)), c.want(f)
					if !(math.Abs(got-want) <= 2e-8) {
						t.Errorf("%s of order %d, edges %v, at %g Hz: gain %.12g, want %.12g", c.kind, order, c.edges, f, got, want)
					}
				}
				for _, f := range c.edges {
					if got := cmplx.Abs(response(sos, f, fs)); !(math.Abs(got-math.Sqrt2/2) <= 2e-8) {
						t.Errorf("%s of order %d, edges %v: gain at the edge %.12g, want 1/√2", c.kind, order, c.edges, got)
					}
				}
			}
		}
	}
}

// A filter whose poles lay outside the unit circle would have the right
// magnitude too.
func TestButterworthStable(t *testing.T) {
	for order := 1; order <= 8; order++ {
		for _, kind := range []string{"lowpass", "bandpass"} {
			edges := []float64{20, 450}
			if kind != "bandpass" {
				edges = edges[:1]
			}
			sos := design(t, kind, order, edges, 1000)
			poles := 0
			for _, s := range sos {
				if r := poleRadius(s); !(r < 1) {
					t.Errorf("%s of order %d: pole at radius %g", kind, order, r)
				}
				poles += 2
				if s.A[1] == 0 {
					poles--
				}
			}
			want := order
			if kind == "bandpass" {
				want *= 2
			}
			if poles != want {
				t.Errorf("%s of order %d has %d poles, want %d", kind, order, poles, want)
			}
		}
	}
}

func TestButterworthRefusals(t *testing.T) {
	for _, c := range []struct {
		design func() (SOS, error)
		want   string
	}{
		{func() (SOS, error) { return ButterworthLowPass(0, 10, 100) }, "order 0"},
		{func() (SOS, error) { return ButterworthLowPass(2, 50, 100) }, "half the sampling rate, 50 Hz"},
		{func() (SOS, error) { return ButterworthLowPass(2, 0, 100) }, "edge 0 Hz"},
		{func() (SOS, error) { return ButterworthLowPass(2, math.NaN(), 100) }, "edge NaN Hz"},
		{func() (SOS, error) { return ButterworthBandPass(2, 30, 20, 100) }, "edge 20 Hz"},
	} {
		if _, err := c.design(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want one that says %q", err, c.want)
		}
	}
}

// Filtering forwards and backwards leaves a tone where it is and scales it by
// the square of the gain.
func TestZeroPhaseOfATone(t *testing.T) {
	const fs = 1000.0
	sos := design(t, "bandpass", 2, []float64{25, 400}, fs)
	z := NewZeroPhase(sos)
	x := make([]float64, 2000)
	for _, f := range []float64{15, 25, 100, 400, 450} {
		for i := range x {
			x[i] = math.Sin(2*math.Pi*f*float64(i)/fs + 0.3)
		}
		g := cmplx.Abs(response(sos, f, fs))
		y := z.Filter(nil, x)
		for i := 500; i < 1500; i++ {
			if d := math.Abs(y[i] - g*g*x[i]); d > 1e-6 {
				t.Fatalf("%g Hz: sample %d differs by %g from the input times %g", f, i, d, g*g)
			}
		}
	}
}

func TestZeroPhaseOfShortSignals(t *testing.T) {
	z := NewZeroPhase(design(t, "lowpass", 2, []float64{8}, 1000))
	if y := z.Filter(nil, nil); len(y) != 0 {
		t.Errorf("nothing filtered to %v", y)
	}
	for n := 1; n <= 5; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = 3
		}
		for i, v := range z.Filter(nil, x) {
			if math.Abs(v-3) > 1e-9 {
				t.Errorf("constant of %d samples: sample %d is %g, want 3", n, i, v)
			}
		}
	}
}

func ExampleButterworthBandPass() {
	sos, err := ButterworthBandPass(2, 25, 400, 1000)
	if err != nil {
		panic(err)
	}
	for _, f := range []float64{12.5, 25, 100, 400} {
		fmt.Printf("%5.1f Hz %6.2f dB\n", f, 20*math.Log10(cmplx.Abs(response(sos, f, 1000))))
	}
	// Output:
	//  12.5 Hz -12.65 dB
	//  25.0 Hz  -3.01 dB
	// 100.0 Hz  -0.00 dB
	// 400.0 Hz  -3.01 dB
}

// TestZeroPhaseIsTwoPasses compares with the recursion run over the extended signal
// once forwards and once backwards, each from its steady state.
func TestZeroPhaseIsTwoPasses(t *testing.T) {
	sos, err := ButterworthBandPass(2, 25, 400, 1000)
	if err != nil {
		t.Fatal(err)
	}
	z := NewZeroPhase(sos)
	for n := 1; n < 9000; n += 1 + n/3 {
		x := noise(n, uint64(n))
		for i := range x {
			x[i] += 3
		}
		p := min(z.pad, n-1)
		want := make([]float64, n+2*p)
		copy(want[p:], x)
		for k := 1; k <= p; k++ {
			want[p-k] = 2*x[0] - x[k]
			want[p+n-1+k] = 2*x[n-1] - x[n-1-k]
		}
		for range 2 {
			first := want[0]
			for i := range sos {
				run(&sos[i], want, first*z.steady[i][0], first*z.steady[i][1])
			}
			slices.Reverse(want)
		}
		if d := farthest(t, z.Filter(nil, x), want[p:p+n]); !(d < 1e-13) {
			t.Errorf("%d samples: off by %g", n, d)
		}
		if in := z.Filter(x, x); farthest(t, in, want[p:p+n]) > 1e-13 {
			t.Errorf("%d samples: another result in place", n)
		}
	}
}
