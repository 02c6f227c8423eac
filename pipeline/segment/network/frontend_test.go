package network

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// beat returns n samples at 1 kHz of noise with a burst of 50 Hz each 600 ms.
func beat(n int) []float64 {
	rng := rand.New(rand.NewPCG(11, 12))
	x := make([]float64, n)
	for i := range x {
		t := float64(i%600) / 1000
		x[i] = 0.002*rng.NormFloat64() + 0.3*math.Sin(2*math.Pi*50*t)*math.Exp(-t/0.03)
	}
	return x
}

// measured returns the input that x gives to a network.
func measured(t *testing.T, x []float64) [][]float32 {
	t.Helper()
	f, err := NewFrontEnd(defaultFrontEnd())
	if err != nil {
		t.Fatal(err)
	}
	p := NewPass(New(defaultArchitecture(), 1))
	f.Measure(p, x)
	return rows(p.input)
}

// furthest returns the largest difference over the frames for which use holds.
func furthest(a, b [][]float32, use func(frame int) bool) float64 {
	var most float64
	for i := range a {
		for k := range a[i] {
			if use(k) {
				most = max(most, math.Abs(float64(a[i][k]-b[i][k])))
			}
		}
	}
	return most
}

func everywhere(int) bool { return true }

func TestFrontEndInvariance(t *testing.T) {
	x := beat(10000)
	plain := measured(t, x)

	t.Run("gain", func(t *testing.T) {
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = -3 * v
		}
		if d := furthest(plain, measured(t, y), everywhere); d > 1e-4 {
			t.Errorf("a gain of −3 moves the input by %g", d)
		}
	})

	t.Run("sensor", func(t *testing.T) {
		y := make([]float64, len(x)) // 9.5 dB less at 0 than at 500 Hz
		for i := 1; i < len(x); i++ {
			y[i] = x[i] - 0.5*x[i-1]
		}
		if d := furthest(plain, measured(t, y), everywhere); d > 0.5 {
			t.Errorf("the response of another sensor moves the input by %g", d)
		}
	})

	t.Run("click", func(t *testing.T) {
		y := append([]float64(nil), x...)
		y[5000] = 1e3
		far := func(frame int) bool { return frame < 247 || frame > 252 }
		changed := measured(t, y)
		if d := furthest(plain, changed, far); d > 0.05 {
			t.Errorf("a click moves the input elsewhere by %g", d)
		}
		for b := range changed {
			for _, v := range changed[b] {
				if v < -4 || v > 4 {
					t.Fatalf("input %v is beyond the clamp", v)
				}
			}
		}
	})
}

// TestFineMeetsMeasure: the middle of a frame is among the fine positions.
func TestFineMeetsMeasure(t *testing.T) {
	for _, n := range []int{2000, 2001, 2013} {
		x := beat(n)
		want := measured(t, x)
		f, err := NewFrontEnd(defaultFrontEnd())
		if err != nil {
			t.Fatal(err)
		}
		in := f.Fine(x)
		for b := range want {
			for k, v := range want[b] {
				at := k*fine + fine/2
				if at >= in.Cols {
					continue
				}
				// Which frames share a transform differs, and with it the rounding.
				if got := in.Data[b*in.Stride+at]; math.Abs(float64(got-v)) > 1e-6 {
					t.Fatalf("%d samples: band %d, frame %d: fine %v, frame %v", n, b, k, got, v)
				}
			}
		}
		if got, frames := len(want[0]), f.Frames(n); got != frames || frames != (n+19)/20 {
			t.Errorf("%d samples: %d frames measured, %d counted", n, got, frames)
		}
	}
}

func TestFrontEndRefuses(t *testing.T) {
	o := defaultFrontEnd()
	o.Scale = 0
	if _, err := NewFrontEnd(o); err == nil || !strings.Contains(err.Error(), "front-end.scale is 0: want 0.001 to 1000") {
		t.Errorf("scale of 0: %v", err)
	}
	o = defaultFrontEnd()
	o.Bank.High = 600
	if _, err := NewFrontEnd(o); err == nil || !strings.Contains(err.Error(), "front-end.bank.high-hz is 600: want 0 to 500") {
		t.Errorf("band up to 600 Hz: %v", err)
	}
}
