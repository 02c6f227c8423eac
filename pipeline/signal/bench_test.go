package signal

import "testing"

// Benchmarks take 20 s at 1 kHz, as a recording has.

func BenchmarkZeroPhase(b *testing.B) {
	sos, err := ButterworthBandPass(2, 25, 400, 1000)
	if err != nil {
		b.Fatal(err)
	}
	z, x := NewZeroPhase(sos), noise(20000, 1)
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = z.Filter(y, x)
	}
}

func BenchmarkHomomorphic(b *testing.B) {
	h, err := NewHomomorphic(8, 1000)
	if err != nil {
		b.Fatal(err)
	}
	x := NewAnalytic().Envelope(nil, noise(20000, 1))
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = h.Smooth(y, x)
	}
}

func BenchmarkBandPower(b *testing.B) {
	p, x := NewBandPower(40, 60, 1000, 50, 20), noise(20000, 1)
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = p.Frames(y, x)
	}
}

func BenchmarkWavelet(b *testing.B) {
	low, high, _, _ := ReverseBiorthogonal39()
	w, x := NewWavelet(low, high, 3), noise(20000, 1)
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = w.Detail(y, x)
	}
}

func BenchmarkAnalytic(b *testing.B) {
	a, x := NewAnalytic(), noise(20000, 1)
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = a.Envelope(y, x)
	}
}

func BenchmarkPeriodogramOfEight(b *testing.B) {
	p := NewPeriodogram(1024)
	var s [8]Spectrum
	var of [8]Stretch
	for i := range of {
		of[i] = Stretch{noise(100+60*i, uint64(i)), 1000}
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Estimates(s[:], of[:])
	}
}

// 20 s of a recording at 4 kHz.
func BenchmarkDecimator(b *testing.B) {
	d, x := NewDecimator(2, 800, 4000), noise(80000, 1)
	var y []float64
	b.ReportAllocs()
	for b.Loop() {
		y = d.Decimate(y, x)
	}
}
