package signal

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
)

var heartBank = FilterBankOptions{Bands: 24, Low: 15, High: 490, Window: 0.064}

// TestFilterBankAgainstScipy compares with values that testdata/network/filterbank.py
// computed with NumPy and SciPy.
func TestFilterBankAgainstScipy(t *testing.T) {
	f, err := os.Open("../../testdata/network/filterbank.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	want, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, 400)
	for i := range x {
		n := float64(i)
		x[i] = 0.3*math.Sin(2*math.Pi*60*n/1000)*math.Exp(-n/150) +
			0.1*math.Sin(2*math.Pi*200.3*n/1000+0.4) + 0.01*math.Cos(0.37*n*n)
	}
	bank, err := NewFilterBank(heartBank, 1000)
	if err != nil {
		t.Fatal(err)
	}
	const frames = 20
	got := bank.LogEnergies(nil, x, 10, 20, frames)
	if len(want) != heartBank.Bands || len(want[0]) != frames {
		t.Fatalf("check values are %d × %d", len(want), len(want[0]))
	}
	for b, row := range want {
		for k, s := range row {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			if g := got[b*frames+k]; math.Abs(g-v) > 1e-8 {
				t.Errorf("band %d, frame %d: %.12g, want %.12g", b, k, g, v)
			}
		}
	}
}

// TestFilterBankCalibration holds the filter bank to its definition: white noise of
// variance σ² has the energy σ² in each band, at the ends as in the middle.
func TestFilterBankCalibration(t *testing.T) {
	const sigma, frames, trials = 0.2, 8, 4000
	bank, err := NewFilterBank(heartBank, 1000)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 20*frames)
	mean := make([]float64, heartBank.Bands*frames)
	var e []float64
	for range trials {
		for i := range x {
			x[i] = sigma * rng.NormFloat64()
		}
		e = bank.LogEnergies(e, x, 10, 20, frames)
		for i, v := range e {
			mean[i] += math.Exp(v) / trials
		}
	}
	for i, m := range mean {
		if ratio := m / (sigma * sigma); math.Abs(ratio-1) > 0.12 {
			t.Errorf("band %d, frame %d: mean energy %.3f σ²", i/frames, i%frames, ratio)
		}
	}
}

// TestFilterBankTone finds each band loudest for a tone at its centre.
func TestFilterBankTone(t *testing.T) {
	bank, err := NewFilterBank(heartBank, 1000)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, 400)
	for want, f := range melEdges(heartBank.Low, heartBank.High, heartBank.Bands)[1 : heartBank.Bands+1] {
		for i := range x {
			x[i] = math.Sin(2 * math.Pi * f * float64(i) / 1000)
		}
		e := bank.LogEnergies(nil, x, 200, 1, 1)
		loudest := 0
		for b, v := range e {
			if v > e[loudest] {
				loudest = b
			}
		}
		if loudest != want {
			t.Errorf("tone of %.1f Hz, centre of band %d, is loudest in band %d", f, want, loudest)
		}
	}
}

func TestFilterBankSilence(t *testing.T) {
	bank, err := NewFilterBank(heartBank, 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range bank.LogEnergies(nil, make([]float64, 100), 10, 20, 5) {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			t.Fatalf("silence has log energy %v", v)
		}
	}
}

// TestMel checks the anchor of the scale, 1000 mel at 1 kHz, and the inverse.
func TestMel(t *testing.T) {
	if m := mel(1000); math.Abs(m-1000) > 0.1 {
		t.Errorf("mel(1000) = %v", m)
	}
	for _, f := range []float64{0, 15, 490, 4000} {
		if g := melToHertz(mel(f)); math.Abs(g-f) > 1e-9*(1+f) {
			t.Errorf("melToHertz(mel(%v)) = %v", f, g)
		}
	}
}

func TestFilterBankRefuses(t *testing.T) {
	for _, tt := range []struct {
		name string
		edit func(*FilterBankOptions)
		fs   float64
		want string
	}{
		{"beyond half the rate", func(o *FilterBankOptions) {}, 900, "≤ 450 Hz"},
		{"no bands", func(o *FilterBankOptions) { o.Bands = 0 }, 1000, "0 bands"},
		{"edges exchanged", func(o *FilterBankOptions) { o.Low = 600 }, 2000, "low < high"},
		{"too narrow", func(o *FilterBankOptions) { o.High = 15.001 }, 1000, "want at least 0.1 Hz"},
		{"window without end", func(o *FilterBankOptions) { o.Window = 1e9 }, 1000, "at most 10 s"},
		{"window too short", func(o *FilterBankOptions) { o.Window = 0.002 }, 1000, "at least three samples"},
		{"no rate", func(o *FilterBankOptions) {}, 0, "not positive"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o := heartBank
			tt.edit(&o)
			if _, err := NewFilterBank(o, tt.fs); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

func BenchmarkFilterBank(b *testing.B) {
	bank, err := NewFilterBank(heartBank, 1000)
	if err != nil {
		b.Fatal(err)
	}
	x := make([]float64, 20000)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	var e []float64
	b.ReportAllocs()
	for b.Loop() {
		e = bank.LogEnergies(e, x, 10, 20, 1000)
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
}
