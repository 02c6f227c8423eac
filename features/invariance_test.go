package features

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// extract returns the features of in by a fresh Extractor.
func extract(t *testing.T, in Input) Features {
	t.Helper()
	f, err := NewExtractor().Extract(in)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// compare calls same for each value of two results with its feature.
func compare(t *testing.T, a, b Features, same func(f Feature, a, b float64) bool) {
	t.Helper()
	if len(a.Cycles) != len(b.Cycles) {
		t.Fatalf("%d and %d cycles", len(a.Cycles), len(b.Cycles))
	}
	check := func(what string, f Feature, u, v float64) {
		t.Helper()
		if math.IsNaN(u) && math.IsNaN(v) {
			return
		}
		if !same(f, u, v) {
			t.Errorf("%s: %s: %.10g and %.10g", what, f.Name, u, v)
		}
	}
	for i := range a.Cycles {
		for k, f := range cycleFeatures {
			check("cycle", f, a.Cycles[i].Values[k], b.Cycles[i].Values[k])
		}
	}
	for k, f := range recordingFeatures {
		check("recording", f, a.Recording[k], b.Recording[k])
	}
}

// near reports whether two values agree to a part of the larger, or of 1.
func near(a, b, tolerance float64) bool {
	return math.Abs(a-b) <= tolerance*math.Max(1, math.Max(math.Abs(a), math.Abs(b)))
}

func scaled(x []float64, g float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = g * v
	}
	return y
}

// Each feature follows the gain as the catalogue says.
func TestGain(t *testing.T) {
	_, in := loadReference(t)
	for _, g := range []float64{0.0371, 2.9} {
		loud := in
		loud.Raw, loud.Wave = scaled(in.Raw, g), signal.NewWaveform(scaled(in.Wave.X, g))
		compare(t, extract(t, in), extract(t, loud), func(f Feature, a, b float64) bool {
			switch f.Scaling {
			case Proportional:
				return math.Abs(b-g*a) <= 1e-9*math.Abs(b)
			case Decibels:
				return near(a+20*math.Log10(g), b, 1e-9)
			case Logarithmic:
				if !strings.Contains(f.Name, "mel_cepstrum_00") {
					return false
				}
				return near(a+2*math.Sqrt(melFilters)*math.Log(g), b, 1e-9)
			}
			return near(a, b, 1e-8)
		})
	}
}

// Inverting the signal, as a sensor of the other polarity would, changes
// nothing but the sign of what says so.
func TestPolarity(t *testing.T) {
	_, in := loadReference(t)
	inverted := in
	inverted.Raw, inverted.Wave = scaled(in.Raw, -1), signal.NewWaveform(scaled(in.Wave.X, -1))
	compare(t, extract(t, in), extract(t, inverted), func(f Feature, a, b float64) bool {
		if !strings.Contains(f.Definition, "changes sign with the polarity") {
			return near(a, b, 1e-12)
		}
		for _, spread := range []string{"_sd", "_iqr"} {
			if strings.HasSuffix(f.Name, spread) {
				return near(a, b, 1e-12)
			}
		}
		return near(a, -b, 1e-12) && a != 0
	})
}

// Silence before the recording changes no feature of a cycle; those of the
// Hilbert envelope by less than 0.1 %, because the transform reaches far and
// meets another mirror image at the start.
func TestLeadingSilence(t *testing.T) {
	_, in := loadReference(t)
	const seconds = 3
	late := in
	late.Raw = append(make([]float64, seconds*in.RawRate), in.Raw...)
	late.Wave = signal.NewWaveform(append(make([]float64, seconds*signal.AnalysisRate), in.Wave.X...))
	late.Intervals = slices.Clone(in.Intervals)
	for i := range late.Intervals {
		late.Intervals[i].Start += seconds * time.Second
		late.Intervals[i].End += seconds * time.Second
	}
	a, b := extract(t, in), extract(t, late)
	// What is measured on the whole recording may change.
	for k, f := range recordingFeatures {
		if f.ofRecording != nil && !strings.Contains(f.Name, "rr_") && !strings.Contains(f.Name, "rmssd") && f.Name != "cycles_count" {
			a.Recording[k], b.Recording[k] = math.NaN(), math.NaN()
		}
	}
	compare(t, a, b, func(f Feature, a, b float64) bool {
		if strings.Contains(f.Definition, "Hilbert envelope") {
			return near(a, b, 1e-3)
		}
		return near(a, b, 1e-6)
	})
}

// heart renders a recording at any rate: two sounds of Gaussian shape a beat,
// a murmur at 180 and 310 Hz and a weak tone at 620 Hz, all of it below
// 1000 Hz, with the intervals that belong to it.
func heart(rate int, seconds float64) ([]float64, []pcg.Interval) {
	const ms = time.Millisecond
	intervals := beats(200*ms, int(seconds/0.8)-1, [4]time.Duration{130 * ms, 200 * ms, 110 * ms, 360 * ms})
	x := make([]float64, int(seconds*float64(rate)))
	atom := func(at, width, f, amplitude float64) {
		from, to := max(int((at-6*width)*float64(rate)), 0), min(int((at+6*width)*float64(rate)), len(x))
		for i := from; i < to; i++ {
			u := float64(i)/float64(rate) - at
			x[i] += amplitude * math.Exp(-u*u/(width*width)) * math.Cos(2*math.Pi*f*u)
		}
	}
	for k, iv := range intervals {
		at, wobble := iv.Start.Seconds(), 1+0.1*math.Sin(float64(k))
		switch iv.State {
		case pcg.S1:
			atom(at+0.06, 0.018, 48, 0.3*wobble)
			atom(at+0.07, 0.015, 110, 0.1)
		case pcg.S2:
			atom(at+0.035, 0.009, 75, 0.2)
			atom(at+0.068, 0.008, 64, 0.12*wobble)
		case pcg.Systole:
			for j := range 9 {
				atom(at+0.02*float64(j+1), 0.012, 180+13*float64(j), 0.02*wobble)
				atom(at+0.02*float64(j+1), 0.011, 310-7*float64(j), 0.01)
			}
		case pcg.Diastole:
			for j := range 16 {
				atom(at+0.02*float64(j+1), 0.02, 60+20*float64(j%7), 0.004*wobble)
			}
		}
		atom(iv.Centre().Seconds(), 0.02, 620, 0.004)
	}
	return x, intervals
}

// The same sound at 2, 4 and 44.1 kHz has the same features, as far as the
// resampler treats it alike: it is flat to 0.05 dB, or 0.6 % of amplitude, to
// 400 Hz, and its three filters differ where they fall off, 400 to 500 Hz.
// The bound is 0.2 % of the value or of one unit; it is wider where a feature
// counts samples, and for the slope, which is fitted to logarithms and so to the
// weakest bins as well.
func TestSamplingRate(t *testing.T) {
	bounds := func(f Feature) float64 {
		switch {
		case strings.Contains(f.Name, "sample_entropy"), strings.Contains(f.Name, "zero_crossings"):
			return 0.02
		case strings.Contains(f.Name, "_slope_"):
			return 0.01
		default:
			return 0.002
		}
	}
	const seconds = 7
	var first Features
	for i, rate := range []int{4000, 2000, 11025, 44100} {
		raw, intervals := heart(rate, seconds)
		in := Input{Raw: raw, RawRate: rate, Wave: signal.NewWaveform(audio.NewResampler(signal.AnalysisRate).Resample(nil, raw, rate)), Intervals: intervals}
		got := extract(t, in)
		if i == 0 {
			first = got
			continue
		}
		compare(t, first, got, func(f Feature, a, b float64) bool { return near(a, b, bounds(f)) })
	}
}
