package features

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/signal"
)

// value returns the named feature of a recording.
func value(t *testing.T, f Features, name string) float64 {
	t.Helper()
	for k, row := range recordingFeatures {
		if row.Name == name {
			return f.Recording[k]
		}
	}
	t.Fatalf("no recording feature %s", name)
	return 0
}

var usual = [4]time.Duration{120 * time.Millisecond, 190 * time.Millisecond, 95 * time.Millisecond, 345 * time.Millisecond}

// Statistics over cycles need one cycle, those of spread two.
func TestNumberOfCycles(t *testing.T) {
	x := noise(6000, 0.1, 3)
	for n := range 3 {
		f := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: beats(100*time.Millisecond, n, usual)})
		if len(f.Cycles) != n || value(t, f, "cycles_count") != float64(n) {
			t.Errorf("%d cycles, counted %v, want %d", len(f.Cycles), value(t, f, "cycles_count"), n)
		}
		for name, least := range map[string]int{
			"rr_interval_s_mean": 1, "rr_interval_s_median": 1, "s1_centroid_hz_mean": 1, "heart_rate_per_min": 1,
			"rr_interval_s_sd": 2, "rr_interval_s_iqr": 2, "s1_mel_cepstrum_03_sd": 2,
			"rr_coefficient_of_variation": 2, "rr_interval_rmssd_s": 2, "rr_successive_over_50_ms_share": 2,
			"s1_to_s2_interval_on_rr_slope": 3, "envelope_periodicity": 0, "raw_rms_db": 0, "recording_kurtosis": 0,
		} {
			if got := value(t, f, name); math.IsNaN(got) != (n < least) {
				t.Errorf("%d cycles: %s is %v, want a value from %d cycles on", n, name, got, least)
			}
		}
		if n > 0 {
			if got, want := value(t, f, "heart_rate_per_min"), 80.0; math.Abs(got-want) > 1e-9 {
				t.Errorf("%d cycles: heart rate %v, want %v", n, got, want)
			}
		}
	}
}

// Three equal cycles vary by nothing, and no line can be laid through them.
func TestEqualCycles(t *testing.T) {
	x := noise(6000, 0.1, 3)
	f := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: beats(100*time.Millisecond, 3, usual)})
	for _, name := range []string{"rr_interval_s_sd", "rr_interval_rmssd_s", "rr_successive_over_50_ms_share"} {
		if got := value(t, f, name); math.Abs(got) > 1e-15 {
			t.Errorf("%s is %v, want 0", name, got)
		}
	}
	for _, name := range []string{"s1_to_s2_interval_on_rr_slope", "s1_to_s2_interval_rr_correlation"} {
		if got := value(t, f, name); !math.IsNaN(got) {
			t.Errorf("%s is %v, want null", name, got)
		}
	}
}

// Silence and a constant have times and levels, and no shape at all: nothing
// is made of the rounding that filters leave.
func TestSilence(t *testing.T) {
	timing := map[string]bool{}
	for _, f := range timingFeatures() {
		timing[f.Name] = true
	}
	for _, level := range []float64{0, 0.3, -1} {
		x := make([]float64, 6000)
		for i := range x {
			x[i] = level
		}
		raw := make([]float64, 4*len(x))
		for i := range raw {
			raw[i] = level
		}
		f := extract(t, Input{Raw: raw, RawRate: 4000, Wave: signal.NewWaveform(x), Intervals: beats(100*time.Millisecond, 4, usual)})
		for _, c := range f.Cycles {
			for k, row := range cycleFeatures {
				switch v := c.Values[k]; {
				case timing[row.Name]:
					if !(v > 0) {
						t.Errorf("level %v: %s is %v", level, row.Name, v)
					}
				case row.Unit == "FS":
					if !(v >= 0 && v < silence) {
						t.Errorf("level %v: %s is %v, want 0", level, row.Name, v)
					}
				case !math.IsNaN(v):
					t.Errorf("level %v: %s is %v, want null", level, row.Name, v)
				}
			}
		}
		for k, row := range recordingFeatures {
			if row.ofRecording == nil || strings.Contains(row.Name, "rr") || strings.Contains(row.Name, "cycles") {
				continue
			}
			switch row.Name {
			case "raw_flat_share":
				if f.Recording[k] != 1 {
					t.Errorf("level %v: %s is %v, want 1", level, row.Name, f.Recording[k])
				}
			case "raw_peak_fs", "raw_mean_fs", "recording_rms_fs", "heart_rate_per_min", "systole_rmssd_s", "diastole_rmssd_s":
			default:
				if !math.IsNaN(f.Recording[k]) {
					t.Errorf("level %v: %s is %v, want null", level, row.Name, f.Recording[k])
				}
			}
		}
	}
}

// A recording that is clipped has its share of clipped samples, and everything
// that an unclipped one has: quality is a column and filters nothing.
func TestClipped(t *testing.T) {
	const level = 0.05
	x := noise(6000, 0.1, 3)
	clipped := 0
	for i, v := range x {
		// Runs of 5 ms and more, as an overloaded amplifier makes them.
		if v = 10 * math.Sin(2*math.Pi*25*float64(i)/signal.AnalysisRate) * math.Abs(v); math.Abs(v) > level {
			v = math.Copysign(level, v)
			clipped++
		}
		x[i] = v
	}
	in := Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: beats(100*time.Millisecond, 4, usual)}
	f := extract(t, in)
	got := value(t, f, "raw_clipped_share")
	if all := float64(clipped) / float64(len(x)); !(got > all/2 && got <= all) {
		t.Errorf("clipped share %v of %v samples at the limits", got, all)
	}
	for _, c := range f.Cycles {
		for k, row := range cycleFeatures {
			optional := row.Name == "s2_split_s" || strings.HasSuffix(row.Name, "400_800_hz_share")
			if math.IsNaN(c.Values[k]) && !optional {
				t.Errorf("%s is null", row.Name)
			}
		}
	}
	checkRanges(t, "clipped", f)
}

// An empty recording and one shorter than any window have few features and do
// no harm.
func TestShortRecordings(t *testing.T) {
	e := NewExtractor()
	for _, n := range []int{0, 1, 2, 39, 60, 1279} {
		for _, rate := range []int{500, 1000, 4000} {
			in := Input{Raw: noise(n*rate/1000, 0.1, 1), RawRate: rate, Wave: signal.NewWaveform(noise(n, 0.1, 2))}
			f, err := e.Extract(in)
			if err != nil {
				t.Fatal(err)
			}
			if got := value(t, f, "cycles_count"); got != 0 || len(f.Cycles) != 0 {
				t.Errorf("%d samples: %v cycles", n, got)
			}
			if got := value(t, f, "envelope_periodicity"); !math.IsNaN(got) {
				t.Errorf("%d samples: periodicity %v, want null", n, got)
			}
			if got := value(t, f, "recording_centroid_hz"); math.IsNaN(got) != (n < 40 || rate < 1000) {
				t.Errorf("%d samples at %d Hz: centroid %v", n, rate, got)
			}
		}
	}
}

// A state shorter than a window loses what needs the window, and only that
// state.
func TestShortStates(t *testing.T) {
	x := noise(4000, 0.1, 3)
	for _, ms := range []int{1, 5, 39, 40, 49, 50} {
		lengths := usual
		lengths[s2] = time.Duration(ms) * time.Millisecond
		f := extract(t, Input{Raw: x, RawRate: 2000, Wave: signal.NewWaveform(x[:2000]), Intervals: beats(100*time.Millisecond, 1, lengths)})
		c := f.Cycles[0]
		for name, least := range map[string]int{
			"s2_duration_s": 1, "s2_rms_fs": 2, "s2_to_s1_rms_ratio": 2, "s2_kurtosis": 2,
			"s2_centroid_hz": 40, "s2_mel_cepstrum_00": 40, "s2_wavelet_62_125_hz_share": 40, "s2_band_400_800_hz_share": 40,
			"s2_split_confidence": 40, "s1_centroid_hz": 1, "diastole_envelope_tenth_01_ratio": 1,
		} {
			if v := c.Values[columnOf(t, name)]; math.IsNaN(v) != (ms < least) {
				t.Errorf("S2 of %d ms: %s is %v, want a value from %d ms on", ms, name, v, least)
			}
		}
	}
}

// A file of less than 1000 Hz cannot fill the band up to 400 Hz: of it everything
// measured there is null, in cycles and in the recording, and what needs times or
// raw samples alone is as it was.
func TestBandNeedsTheRate(t *testing.T) {
	raw := noise(16000, 0.1, 3)
	full := extract(t, Input{Raw: raw, RawRate: 4000, Wave: signal.NewWaveform(noise(4000, 0.1, 4)), Intervals: beats(100*time.Millisecond, 3, usual)})
	low := extract(t, Input{Raw: raw[:4*999], RawRate: 999, Wave: signal.NewWaveform(noise(4000, 0.1, 4)), Intervals: beats(100*time.Millisecond, 3, usual)})
	check := func(f Feature, full, low float64) {
		free := !strings.Contains(f.Definition, "at 1 kHz") && !strings.Contains(f.Name, "_400_800_") // of raw or times alone
		switch {
		case !free && !math.IsNaN(low):
			t.Errorf("%s is %v at 999 Hz, want null", f.Name, low)
		case !free && !strings.Contains(f.Null, "the file has less than "):
			t.Errorf("%s: its null does not speak of the rate: %s", f.Name, f.Null)
		case free && math.IsNaN(full) != math.IsNaN(low):
			t.Errorf("%s is %v at 4000 Hz and %v at 999 Hz", f.Name, full, low)
		}
	}
	for k, f := range cycleFeatures {
		check(f, full.Cycles[1].Values[k], low.Cycles[1].Values[k])
	}
	for k, f := range recordingFeatures {
		if f.ofRecording != nil {
			check(f, full.Recording[k], low.Recording[k])
		}
	}
}

// A file of less than 2000 Hz knows nothing of 400 to 800 Hz.
func TestHighBandNeedsTheRate(t *testing.T) {
	x := noise(4000, 0.1, 3)
	for _, rate := range []int{500, 1000, 1999, 2000, 3000, 4000, 11025} { // 3000 and 11025 Hz take a grid of their own
		in := Input{Raw: noise(4*rate, 0.1, 4), RawRate: rate, Wave: signal.NewWaveform(x), Intervals: beats(100*time.Millisecond, 3, usual)}
		f := extract(t, in)
		for _, name := range []string{"systole_band_400_800_hz_share_mean", "recording_band_400_800_hz_share"} {
			got := value(t, f, name)
			if math.IsNaN(got) != (rate < 2000) {
				t.Errorf("%d Hz: %s is %v", rate, name, got)
			}
			// White noise: 400 of 775 Hz.
			if rate >= 2000 && math.Abs(got-400.0/775) > 0.05 {
				t.Errorf("%d Hz: %s of white noise is %v, want %v", rate, name, got, 400.0/775)
			}
		}
	}
}

// within reports whether v lies in a range as the catalogue writes it.
func within(limits string, v float64) bool {
	limits = strings.ReplaceAll(limits, "−", "-")
	var low, high float64
	switch {
	case limits == "any":
		return true
	case limits == "≤ 0 within full scale":
		return v <= 0
	case strings.HasPrefix(limits, "whole, ≥ 0"):
		return v >= 0 && v == math.Trunc(v)
	}
	if n, _ := fmt.Sscanf(limits, "%g to %g", &low, &high); n == 2 {
		return v >= low-1e-9 && v <= high+1e-9
	}
	if n, _ := fmt.Sscanf(limits, "≥ %g", &low); n == 1 {
		return v >= low-1e-9
	}
	if n, _ := fmt.Sscanf(limits, "> %g", &low); n == 1 {
		return v > low
	}
	panic("features: range " + limits)
}

// checkRanges checks each value against the range of its row.
func checkRanges(t *testing.T, what string, f Features) {
	t.Helper()
	check := func(row Feature, v float64) {
		if !math.IsNaN(v) && !within(row.Range, v) {
			t.Errorf("%s: %s is %v, want %s", what, row.Name, v, row.Range)
		}
		if math.IsNaN(v) && row.Null == never {
			t.Errorf("%s: %s is null, which it never is", what, row.Name)
		}
	}
	for _, c := range f.Cycles {
		for k, row := range cycleFeatures {
			check(row, c.Values[k])
		}
	}
	for k, row := range recordingFeatures {
		check(row, f.Recording[k])
	}
}

func TestRanges(t *testing.T) {
	_, in := loadReference(t)
	checkRanges(t, "reference", extract(t, in))
	for seed := range uint64(20) {
		x := noise(8000, 0.01*float64(seed+1), seed)
		if seed%3 == 0 {
			for i := range x {
				x[i] = math.Max(-0.02, math.Min(0.02, x[i]))
			}
		}
		lengths := [4]time.Duration{
			time.Duration(40+seed*9) * time.Millisecond, time.Duration(1+seed*20) * time.Millisecond,
			time.Duration(10+seed*8) * time.Millisecond, time.Duration(3+seed*70) * time.Millisecond,
		}
		iv := beats(time.Millisecond, 3, lengths)
		checkRanges(t, fmt.Sprintf("noise %d", seed), extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: iv}))
	}
}

// One Extractor gives the same values, bit for bit, whatever it did before.
func TestExtractorForgets(t *testing.T) {
	_, in := loadReference(t)
	want := extract(t, in)
	e := NewExtractor()
	for seed := range uint64(3) {
		x := noise(3000+int(seed)*4000, 0.2, seed)
		if _, err := e.Extract(Input{Raw: noise(44100, 0.1, seed), RawRate: 44100, Wave: signal.NewWaveform(x), Intervals: beats(50*time.Millisecond, 3, usual)}); err != nil {
			t.Fatal(err)
		}
		got, err := e.Extract(in)
		if err != nil {
			t.Fatal(err)
		}
		compare(t, want, got, func(_ Feature, a, b float64) bool { return a == b })
	}
}

// A cycle more costs no allocation more.
func TestAllocations(t *testing.T) {
	x := noise(30*signal.AnalysisRate, 0.1, 1)
	raw := noise(30*4000, 0.1, 2)
	e := NewExtractor()
	allocations := func(n int) float64 {
		in := Input{Raw: raw, RawRate: 4000, Wave: signal.NewWaveform(x), Intervals: beats(10*time.Millisecond, n, usual)}
		return testing.AllocsPerRun(3, func() {
			in.Wave.Set(x)
			if _, err := e.Extract(in); err != nil {
				t.Fatal(err)
			}
		})
	}
	// A few either way come from the pools of gonum, which the race detector lets
	// forget things at random.
	const few, many, slack = 5, 39, 5
	if a, b := allocations(few), allocations(many); b > a+slack {
		t.Errorf("%v allocations for %d cycles, %v for %d", a, few, b, many)
	}
}
