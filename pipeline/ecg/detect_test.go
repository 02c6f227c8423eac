package ecg

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// detectors returns the R waves of each detector alone, of both where they agree, and
// the share of agreement.
func detectors(t testing.TB, x []float64, fs float64) (waves map[string][]int, r Result) {
	t.Helper()
	first, second, _ := findWaves(x, fs)
	r, err := Detect(x, fs)
	if err != nil {
		t.Fatal(err)
	}
	return map[string][]int{"Pan and Tompkins": first, "length transform": second}, r
}

// The detectors find known beats at every heart rate, at every sampling rate, in
// noise of every kind, and of either polarity. ANSI/AAMI EC57 counts an R wave as
// found within 150 ms; where both detectors agree it lies within 10 ms.
func TestKnownBeats(t *testing.T) {
	type condition struct {
		name string
		synthetic
		least float64 // sensitivity and positive predictivity
	}
	conditions := []condition{
		{"clean", synthetic{}, 1},
		{"inverted", synthetic{scale: -1}, 1},
		{"in microvolts, with an offset", synthetic{scale: 1000, offset: -1e6}, 1},
		{"baseline wander of three R waves", synthetic{wander: 3}, 1},
		{"mains hum as tall as the R wave", synthetic{hum: 1}, 1},
		{"noise 20 dB below the R wave", synthetic{noise: 0.1}, 0.99},
		{"noise 14 dB below the R wave", synthetic{noise: 0.2}, 0.97},
		{"all of them", synthetic{noise: 0.1, wander: 1, hum: 0.5, scale: -0.2}, 0.99},
		{"T wave of 0.8 R", synthetic{tall: 0.8}, 0.99},
	}
	for _, c := range conditions {
		for k, rate := range []float64{30, 45, 60, 80, 110, 150, 180, 220} {
			c.rate, c.seconds, c.seed = rate, 36, uint64(rate)
			c.fs = []float64{100, 128, 250, 360, 500, 1000, 2000, 4000}[(k+len(c.name))%8]
			name := fmt.Sprintf("%s, %g per minute at %g Hz", c.name, rate, c.fs)
			x, beats := c.render()
			alone, r := detectors(t, x, c.fs)
			for detector, waves := range alone {
				if f := count(waves, beats, 0.15, c.fs, len(x)); f.sensitivity() < c.least || f.predictivity() < c.least {
					t.Errorf("%s: %s has sensitivity %.3f and positive predictivity %.3f: %+v", name, detector, f.sensitivity(), f.predictivity(), f)
				}
			}
			if f := count(r.Agreed, beats, 0.01, c.fs, len(x)); f.sensitivity() < c.least || f.predictivity() < 1 {
				t.Errorf("%s: of R waves within 10 ms both find %+v", name, f)
			}
			// Where an end cuts a beat or the hum, one detector may find it alone.
			if r.Agreement() < c.least-1.5/float64(len(beats)) {
				t.Errorf("%s: agreement on %.3f of the beats", name, r.Agreement())
			}
		}
	}
}

// On a clean wave an R wave is placed to the sample.
func TestPlacedToTheSample(t *testing.T) {
	for _, fs := range []float64{100, 250, 333.3, 360, 499, 500, 999, 1000, 2000, 10000} {
		for _, scale := range []float64{1, -1} {
			x, beats := synthetic{fs: fs, seconds: 20, rate: 70, scale: scale, seed: 3}.render()
			r, err := Detect(x, fs)
			if err != nil {
				t.Fatal(err)
			}
			// Q and S, which differ, pull the top of the filtered wave aside by half a
			// millisecond.
			within := 1 + 0.0005*fs
			for i, at := range r.Agreed {
				if i >= len(beats) || math.Abs(float64(at)-beats[i]) > within {
					t.Errorf("%g Hz: R wave %d at sample %d of %v", fs, i, at, beats)
					break
				}
			}
			if len(r.Agreed) != len(beats) {
				t.Errorf("%g Hz: %d of %d R waves", fs, len(r.Agreed), len(beats))
			}
		}
	}
}

// Beats that come early are found, and so is the beat after the pause.
func TestEarlyBeats(t *testing.T) {
	for _, rate := range []float64{50, 75, 100, 130} {
		x, beats := synthetic{fs: 360, seconds: 60, rate: rate, every: 5, seed: 9}.render()
		alone, r := detectors(t, x, 360)
		for detector, waves := range alone {
			if f := count(waves, beats, 0.15, 360, len(x)); f.sensitivity() < 0.99 || f.predictivity() < 1 {
				t.Errorf("%g per minute: %s: %+v", rate, detector, f)
			}
		}
		if f := count(r.Agreed, beats, 0.01, 360, len(x)); f.sensitivity() < 0.98 || f.predictivity() < 1 {
			t.Errorf("%g per minute: both: %+v", rate, f)
		}
	}
}

// Noise without a heart is no agreement, and neither is silence.
func TestNoHeart(t *testing.T) {
	for seed := range uint64(5) {
		x, _ := synthetic{fs: 500, seconds: 30, rate: 1e-9, noise: 1, seed: seed}.render()
		if r, err := Detect(x, 500); err != nil || r.Agreement() > 0.7 {
			t.Errorf("noise: agreement on %.2f of %d beats (%v)", r.Agreement(), len(r.Agreed)+len(r.Disputed), err)
		}
	}
	for _, level := range []float64{0, 1, -3e5, 1e300} {
		r, err := Detect(slices.Repeat([]float64{level}, 20000), 2000)
		if err != nil || len(r.Agreed)+len(r.Disputed) > 0 || r.Agreement() != 0 {
			t.Errorf("a constant %g: %+v, %v", level, r, err)
		}
	}
}

// Beats among samples that are missing, or where the wave is flat, are not known:
// the stretch is unsure, and the beats around it are found all the same.
func TestLostContact(t *testing.T) {
	for _, lost := range []float64{math.NaN(), math.Inf(1), 0, 5} {
		x, beats := synthetic{fs: 500, seconds: 40, rate: 72, seed: 5}.render()
		for i := 10 * 500; i < 15*500; i++ {
			x[i] = lost
		}
		r, err := Detect(x, 500)
		if err != nil {
			t.Fatal(err)
		}
		var outside []float64
		for _, b := range beats {
			if b < 9.8*500 || b > 15.2*500 {
				outside = append(outside, b)
			}
		}
		var sure []int
		for _, at := range r.Agreed {
			if at < 4900 || at > 7600 {
				sure = append(sure, at)
			}
		}
		if f := count(sure, outside, 0.01, 500, len(x)); f.fn > 0 || f.fp > 0 {
			t.Errorf("%g for five seconds: outside of these %+v", lost, f)
		}
		for at := 5100; at < 7400; at++ { // the jumps themselves may look like beats
			if !slices.ContainsFunc(r.Unsure, func(s Span) bool { return s.Start <= at && at <= s.End }) {
				t.Errorf("%g for five seconds: sample %d of these is not unsure: %v", lost, at, r.Unsure)
				break
			}
		}
	}
}

// An artefact of a hundred R waves hides none of the beats a second after it.
func TestArtefact(t *testing.T) {
	x, beats := synthetic{fs: 250, seconds: 40, rate: 80, seed: 8}.render()
	for i := range 50 {
		x[20*250+i] += 100
	}
	r, err := Detect(x, 250)
	if err != nil {
		t.Fatal(err)
	}
	outside := func(at float64) bool { return at < 19*250 || at > 21.5*250 }
	waves := slices.DeleteFunc(r.Agreed, func(at int) bool { return !outside(float64(at)) })
	beats = slices.DeleteFunc(beats, func(at float64) bool { return !outside(at) })
	if f := count(waves, beats, 0.02, 250, len(x)); f.fn > 0 || f.fp > 0 {
		t.Errorf("more than a second from the artefact: %+v", f)
	}
}

func TestUnit(t *testing.T) {
	x, _ := synthetic{fs: 360, seconds: 20, rate: 70, noise: 0.1, seed: 2}.render()
	want, err := Detect(x, 360)
	if err != nil {
		t.Fatal(err)
	}
	for _, scale := range []float64{0x1p-1000, 0x1p-10, 0x1p20, 0x1p1000, -1} {
		y := make([]float64, len(x))
		for i := range x {
			y[i] = x[i] * scale
		}
		got, err := Detect(y, 360)
		if err != nil || !slices.Equal(got.Agreed, want.Agreed) || !slices.Equal(got.Disputed, want.Disputed) {
			t.Errorf("times %g: %v, want %v (%v)", scale, got, want, err)
		}
	}
}

// The trace for the eye keeps R waves where they are, and has neither hum nor wander.
func TestTrace(t *testing.T) {
	clean, beats := synthetic{fs: 2000, seconds: 20, rate: 70, seed: 4}.render()
	noisy, _ := synthetic{fs: 2000, seconds: 20, rate: 70, seed: 4, wander: 0, hum: 0.5, offset: 3}.render()
	for i := range noisy {
		noisy[i] += math.Sin(2 * math.Pi * 0.1 * float64(i) / 2000)
	}
	want, rate, err := Trace(clean, 2000)
	if err != nil || rate != 500 || len(want) != 10000 {
		t.Fatalf("%d samples at %g Hz, %v", len(want), rate, err)
	}
	for _, b := range beats {
		at := int(math.Round(b / 4))
		if top := largestMagnitude(want, at, 50); top < at-2 || top > at+2 {
			t.Errorf("R wave of sample %d at %d", at, top)
		}
	}
	got, _, err := Trace(noisy, 2000)
	if err != nil {
		t.Fatal(err)
	}
	scale := slices.Max(want) / slices.Max(got)
	for i := 500; i < 9500; i++ {
		if off := math.Abs(got[i]*scale - want[i]); off > 0.15*slices.Max(want) {
			t.Fatalf("sample %d is off by %.3f of %.3f", i, off, slices.Max(want))
		}
	}
	// A recording that begins at zero far from its baseline shows its first beat.
	for i := range clean {
		clean[i] += 5
	}
	for i := range 20 {
		clean[i] = 0
	}
	late, _, err := Trace(clean, 2000)
	if err != nil {
		t.Fatal(err)
	}
	for i := 50; i < 400; i++ {
		if off := math.Abs(late[i]*slices.Max(want)/slices.Max(late) - want[i]); off > 0.05*slices.Max(want) {
			t.Fatalf("sample %d after a jump is off by %.3f of %.3f", i, off, slices.Max(want))
		}
	}
	if _, _, err := Trace(clean, 50); err == nil {
		t.Error("50 Hz is not refused")
	}
	if wave, _, err := Trace([]float64{math.NaN()}, 500); err != nil || len(wave) != 0 {
		t.Errorf("no sample gives %v, %v", wave, err)
	}
}

func TestRateRefused(t *testing.T) {
	for _, fs := range []float64{0, -1, 99.9, math.NaN(), math.Inf(1)} {
		if r, err := Detect(make([]float64, 1000), fs); err == nil {
			t.Errorf("%g Hz gives %v", fs, r)
		}
	}
}

// Whatever the samples, the R waves are samples of the recording, in order, and the
// unsure stretches lie between them.
func FuzzDetect(f *testing.F) {
	f.Add([]byte{}, uint16(100))
	f.Add([]byte{128}, uint16(250))
	f.Add([]byte{0, 255, 0, 255, 254, 1}, uint16(65535))
	x, _ := synthetic{fs: 100, seconds: 20, rate: 90, seed: 1}.render()
	seed := make([]byte, len(x))
	for i, v := range x {
		seed[i] = byte(100 + 80*v)
	}
	f.Add(seed, uint16(100))
	f.Fuzz(func(t *testing.T, data []byte, fs uint16) {
		special := map[byte]float64{255: math.NaN(), 254: math.Inf(1), 253: math.Inf(-1), 252: math.MaxFloat64, 251: math.SmallestNonzeroFloat64}
		x := make([]float64, len(data))
		for i, b := range data {
			v, ok := special[b]
			if !ok {
				v = float64(b)
			}
			x[i] = v
		}
		rate := float64(max(fs, MinRate))
		r, err := Detect(x, rate)
		if err != nil {
			t.Fatal(err)
		}
		for _, list := range [][]int{r.Agreed, r.Disputed} {
			for i, at := range list {
				if at < 0 || at >= len(x) || i > 0 && at < list[i-1] {
					t.Fatalf("R waves %v in %d samples", list, len(x))
				}
			}
		}
		for i, s := range r.Unsure {
			if s.Start >= s.End || !slices.Contains(r.Agreed, s.Start) || !slices.Contains(r.Agreed, s.End) || i > 0 && s.Start < r.Unsure[i-1].End {
				t.Fatalf("unsure %v between %v", r.Unsure, r.Agreed)
			}
		}
		if a := r.Agreement(); !(a >= 0 && a <= 1) {
			t.Fatalf("agreement %g", a)
		}
	})
}

func BenchmarkDetect(b *testing.B) {
	x, _ := synthetic{fs: 2000, seconds: 36, rate: 75, noise: 0.1, seed: 1}.render()
	for b.Loop() {
		if _, err := Detect(x, 2000); err != nil {
			b.Fatal(err)
		}
	}
}
