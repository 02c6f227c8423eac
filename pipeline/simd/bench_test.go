package simd

import (
	"fmt"
	"math"
	"testing"
)

func BenchmarkFFT(b *testing.B) {
	for _, n := range []int{512, 1024, 3072} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			f, x, work := NewFFT(n), NewBlock(n), NewBlock(n)
			for b.Loop() {
				f.Transform(x, work)
			}
		})
	}
}

func BenchmarkLog(b *testing.B) {
	x, dst := make([]float64, 400), make([]float64, 400)
	for i := range x {
		x[i] = math.Exp(float64(i) / 10)
	}
	b.Run("Log", func(b *testing.B) {
		for b.Loop() {
			Log(dst, x)
		}
	})
	b.Run("math.Log", func(b *testing.B) {
		for b.Loop() {
			for i, v := range x {
				dst[i] = math.Log(v)
			}
		}
	})
}

func BenchmarkExp(b *testing.B) {
	x, dst := make([]float64, 400), make([]float64, 400)
	for i := range x {
		x[i] = float64(i-200) / 10
	}
	b.Run("Exp", func(b *testing.B) {
		for b.Loop() {
			Exp(dst, x)
		}
	})
	b.Run("math.Exp", func(b *testing.B) {
		for b.Loop() {
			for i, v := range x {
				dst[i] = math.Exp(v)
			}
		}
	})
}

func BenchmarkDot(b *testing.B) {
	for _, n := range []int{24, 256} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			x := make([]float64, n)
			for b.Loop() {
				Dot(x, x)
			}
		})
	}
}

func BenchmarkDecimate(b *testing.B) {
	x, taps, dst := make([]float64, 4*1000+256), make([]float64, 256), make([]float64, 1000)
	for b.Loop() {
		Decimate(dst, x, taps, 4)
	}
}

func BenchmarkHalfBand(b *testing.B) {
	h, x, dst := NewHalfBand(0.5, make([]float64, 14)), make([]float64, 2*1000), make([]float64, 1000)
	for b.Loop() {
		h.Filter(dst, x, 0)
	}
}

func BenchmarkCorrelate(b *testing.B) {
	x, taps, dst := make([]float64, 1200), make([]float64, 20), make([]float64, 1000)
	for b.Loop() {
		Correlate(dst, x, taps, 8)
	}
}

func BenchmarkRealPowers(b *testing.B) {
	f, x, work := NewFFT(1024), NewBlock(1024), NewFFT(1024).NewWork()
	var dst [8][]float64
	var scale [8]float64
	for s := range dst {
		dst[s] = make([]float64, 513)
	}
	for _, length := range []int{1024, 512} {
		b.Run(fmt.Sprint(length), func(b *testing.B) {
			for b.Loop() {
				f.RealPowers(&dst, x, work, length, &scale)
			}
		})
	}
}

func BenchmarkCascade(b *testing.B) {
	x := make([]float64, 4*1000)
	var sections [2]Section
	var states [2]State
	for b.Loop() {
		Cascade(x, &sections, &states, false)
	}
}

// BenchmarkSumProducts runs the products of a network of 32 channels over 500
// frames: a convolution of three taps, one of one tap, the input layer, whose
// operand lies band by band, and the gradient by the weights of one tap.
func BenchmarkSumProducts(b *testing.B) {
	const frames, channels, bands = 500, 32, 24
	dst, x, w := make([]float32, frames*channels), make([]float32, (frames+128)*channels), make([]float32, (frames+128)*channels)
	for _, s := range []struct {
		name string
		p    Products
	}{
		{"taps=3", Products{Rows: frames, Cols: channels, Taps: 3, Depth: channels, NextRow: channels, ANextRow: channels, ANextTap: 64 * channels, ANext: 1, BNext: channels}},
		{"taps=1", Products{Rows: frames, Cols: channels, Taps: 1, Depth: channels, NextRow: channels, ANextRow: channels, ANext: 1, BNext: channels}},
		{"input", Products{Rows: frames, Cols: channels, Taps: 1, Depth: bands, NextRow: channels, ANextRow: 1, ANext: frames + 12, BNext: channels}},
		{"gradient", Products{Rows: channels, Cols: channels, Taps: 1, Depth: frames, NextRow: channels, ANextRow: 1, ANext: channels, BNext: channels}},
	} {
		b.Run(s.name, func(b *testing.B) {
			for b.Loop() {
				SumProducts(dst, nil, x, w, nil, 0, &s.p)
			}
			b.ReportMetric(2*float64(s.p.Rows*s.p.Cols*s.p.Taps*s.p.Depth)*float64(b.N)/b.Elapsed().Seconds()/1e9, "GFlop/s")
		})
	}
}
