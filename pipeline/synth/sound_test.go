package synth

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"phonocycle/pipeline/pcg"
)

// checkValues reads a table of testdata/synth below its header.
func checkValues(t *testing.T, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "synth", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var values [][]float64
	for _, row := range rows[1:] {
		var line []float64
		for _, cell := range row {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			line = append(line, v)
		}
		values = append(values, line)
	}
	return values
}

// The closed form of attack and decay agrees with a numerical solution; see
// testdata/synth/damped.py.
func TestDampingAgainstSciPy(t *testing.T) {
	for _, row := range checkValues(t, "damping.csv") {
		c := Component{Duration: pcg.FromSeconds(row[0]), Rise: row[1]}
		d := c.damping()
		for i, got := range []float64{d.attack, d.decay, d.lead} {
			if want := row[2+i]; math.Abs(got-want) > 1e-11 {
				t.Errorf("duration %g s, rise %g: value %d is %.12f, want %.12f", row[0], row[1], i, got, want)
			}
		}
		from, to := d.above(EdgeLevel)
		if got := to - from; math.Abs(got-row[0]) > 1e-12 {
			t.Errorf("duration %g s, rise %g: lasts %.12f s", row[0], row[1], got)
		}
	}
}

// The samples agree with the formula evaluated by NumPy; see
// testdata/synth/damped.py.
func TestComponentAgainstNumPy(t *testing.T) {
	c := Component{
		Gain: 0.3, Duration: 100 * time.Millisecond, Rise: 0.35,
		Partials: []Partial{{40, 1}, {80, 0.47}, {160, 0.22}},
	}
	want := checkValues(t, "damped.csv")
	x := make([]float64, len(want))
	c.addTo(x, 4000, 0.0123)
	for n, v := range x {
		if math.Abs(v-want[n][0]) > 1e-6*c.Gain {
			t.Fatalf("sample %d is %.12f, want %.12f", n, v, want[n][0])
		}
	}
}

// S1 lasts 70 to 150 ms and S2 60 to 120 ms (common practice) at any rate of an
// adult at rest, whatever the breath.
func TestSoundDurations(t *testing.T) {
	for rate := 50.0; rate <= 100; rate += 5 {
		r := render(t, NewHeart(rate, RestingWomen, 1), 12*time.Second)
		for _, b := range r.Beats {
			if d := b.S1.Duration(); d < 70*time.Millisecond || d > 150*time.Millisecond {
				t.Errorf("%g bpm: S1 lasts %v", rate, d)
			}
			if d := b.S2.Duration(); d < 60*time.Millisecond || d > 120*time.Millisecond {
				t.Errorf("%g bpm: S2 lasts %v", rate, d)
			}
		}
	}
}

// The interval is the visible body of the sound: outside it no sample exceeds
// EdgeLevel of the peak of the envelope, inside it the middle lies within 13 ms
// of the centroid of the energy.
func TestIntervalHoldsSound(t *testing.T) {
	h := NewHeart(70, RestingMen, 5)
	h.loudnessVariation = 0
	r := render(t, h, 20*time.Second)
	peak := map[pcg.State]float64{pcg.S1: h.m1.Gain, pcg.S2: h.a2.Gain}
	worst := time.Duration(0)
	for i, iv := range r.Truth[1 : len(r.Truth)-1] {
		from, to := pcg.ToSamples(iv.Start, r.Rate), pcg.ToSamples(iv.End, r.Rate)
		if !iv.State.IsSound() {
			before := r.Truth[i].State // the sound whose tail falls here
			for n := from; n < to; n++ {
				late := n >= (from+to)/2
				limit := EdgeLevel * peak[before]
				if late {
					limit = EdgeLevel * peak[before.Next().Next()]
				}
				// Two components may add up where both fall below the level.
				if math.Abs(r.Samples[n]) > 2*limit {
					t.Fatalf("%v: sample %d is %g, beyond %g", iv, n, r.Samples[n], 2*limit)
				}
			}
			continue
		}
		var energy, moment float64
		for n := from - 200; n < to+200; n++ {
			energy += r.Samples[n] * r.Samples[n]
			moment += r.Samples[n] * r.Samples[n] * float64(n)
		}
		centroid := pcg.FromSeconds(moment / energy / float64(r.Rate))
		worst = max(worst, (iv.Centre() - centroid).Abs())
	}
	if worst == 0 || worst > 13*time.Millisecond {
		t.Errorf("the middle of a sound lies up to %v from the centroid of its energy", worst)
	}
}

// The spectrum of each sound peaks at its lowest partial, and S2 is the higher
// pitched.
func TestSoundSpectra(t *testing.T) {
	h := NewHeart(65, RestingMen, 2)
	h.t1.Gain, h.p2.Gain = 0, 0
	r := render(t, h, 20*time.Second)
	s1, c1 := spectrumOf(r, pcg.S1)
	s2, c2 := spectrumOf(r, pcg.S2)
	if math.Abs(s1-h.m1.Partials[0].Frequency) > 2 {
		t.Errorf("S1 peaks at %.1f Hz, want %g", s1, h.m1.Partials[0].Frequency)
	}
	if math.Abs(s2-h.a2.Partials[0].Frequency) > 2 {
		t.Errorf("S2 peaks at %.1f Hz, want %g", s2, h.a2.Partials[0].Frequency)
	}
	if c1 >= c2 {
		t.Errorf("centroid of S1 %.1f Hz is not below that of S2 %.1f Hz", c1, c2)
	}

	// With all components S1 stays within the 25 to 45 Hz and S2 near the 50 Hz
	// of the textbook's figures (Ganong).
	r = render(t, NewHeart(65, RestingMen, 2), 20*time.Second)
	if s1, _ := spectrumOf(r, pcg.S1); s1 < 25 || s1 > 45 {
		t.Errorf("S1 peaks at %.1f Hz", s1)
	}
	if s2, _ := spectrumOf(r, pcg.S2); s2 < 45 || s2 > 70 {
		t.Errorf("S2 peaks at %.1f Hz", s2)
	}
}

// spectrumOf returns the peak and the centroid, in hertz, of the mean power
// spectrum of the sounds of one class.
func spectrumOf(r *Recording, class pcg.State) (peak, centroid float64) {
	const size = 1 << 14
	plan := fourier.NewFFT(size)
	power := make([]float64, size/2+1)
	for _, iv := range r.Truth[2 : len(r.Truth)-2] {
		if iv.State != class {
			continue
		}
		x := make([]float64, size)
		margin := r.Rate / 50
		copy(x, r.Samples[pcg.ToSamples(iv.Start, r.Rate)-margin:pcg.ToSamples(iv.End, r.Rate)+margin])
		for k, c := range plan.Coefficients(nil, x) {
			power[k] += real(c)*real(c) + imag(c)*imag(c)
		}
	}
	best, sum, moment := 0, 0.0, 0.0
	for k, p := range power {
		if p > power[best] {
			best = k
		}
		sum += p
		moment += p * plan.Freq(k)
	}
	return plan.Freq(best) * float64(r.Rate), moment / sum * float64(r.Rate)
}

// render records a heart at 4 kHz.
func render(t *testing.T, h Heart, d time.Duration, opts ...Option) *Recording {
	t.Helper()
	r, err := Render(h, d, 4000, opts...)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
