package signal

import (
	"math/cmplx"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"phonocycle/pipeline/simd"
)

// TestFFTAgainstGoDSP compares the transform that the spectra are made with to that
// of go-dsp, which works in another order of operations.
func TestFFTAgainstGoDSP(t *testing.T) {
	for _, n := range []int{8, 48, 512, 768, 1024} {
		x := simd.NewBlock(n)
		copy(x.Re, noise(simd.Width*n, 5))
		copy(x.Im, noise(simd.Width*n, 6))
		var want [simd.Width][]complex128
		for l := range want {
			sequence := make([]complex128, n)
			for i := range sequence {
				sequence[i] = complex(x.Re[simd.Width*i+l], x.Im[simd.Width*i+l])
			}
			want[l] = fft.FFT(sequence)
		}
		got := simd.NewFFT(n).Transform(x, simd.NewBlock(n))
		for l := range want {
			for k, w := range want[l] {
				g := complex(got.Re[simd.Width*k+l], got.Im[simd.Width*k+l])
				if cmplx.Abs(g-w) > 1e-10 {
					t.Fatalf("%d points, sequence %d, bin %d: %v, want %v", n, l, k, g, w)
				}
			}
		}
	}
}

// TestPeriodogramAgainstGoDSP compares a stretch of odd length, padded with zeros.
func TestPeriodogramAgainstGoDSP(t *testing.T) {
	const points, fs = 256, 1000
	for _, n := range []int{57, 255} {
		x := noise(n, 7)
		mean, _ := MeanSD(x)
		p := NewPeriodogram(points)
		got := p.Estimate(Spectrum{}, x, fs)
		window := p.hann(n)
		padded := make([]float64, points)
		for i, v := range x {
			padded[i] = window.weights[i] * (v - mean)
		}
		want := make([]float64, points/2+1)
		for k, v := range fft.FFTReal(padded)[:points/2+1] {
			want[k] = 2 * real(v*cmplx.Conj(v)) / (fs * window.square)
		}
		halveEnds(want)
		checkClose(t, "periodogram", got.Density, want, 1e-15)
	}
}
