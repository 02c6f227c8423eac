package features

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

const references = "../testdata/features"

// reference is what make_reference.py wrote.
type reference struct {
	Versions  map[string]string
	Intervals []struct {
		Start time.Duration `json:"start_ns"`
		End   time.Duration `json:"end_ns"`
		State string
	}
	Cycles    []map[string]*float64
	Recording map[string]*float64
}

// loadReference returns the check values and the input that they belong to.
func loadReference(t *testing.T) (reference, Input) {
	t.Helper()
	var ref reference
	b, err := os.ReadFile(filepath.Join(references, "reference.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &ref); err != nil {
		t.Fatal(err)
	}
	raw := decode(t, "recording_4000_hz.wav")
	x := audio.NewResampler(signal.AnalysisRate).Resample(nil, raw.Samples, raw.Rate)
	in := Input{Raw: raw.Samples, RawRate: raw.Rate, Wave: signal.NewWaveform(x)}
	for _, r := range ref.Intervals {
		s, err := pcg.ParseState(r.State)
		if err != nil {
			t.Fatal(err)
		}
		in.Intervals = append(in.Intervals, pcg.Interval{Start: r.Start, End: r.End, State: s})
	}
	return ref, in
}

func decode(t *testing.T, name string) *audio.Clip {
	t.Helper()
	clip, err := new(audio.Decoder).DecodeFile(filepath.Join(references, name))
	if err != nil {
		t.Fatal(err)
	}
	return clip
}

// TestAgainstSciPy checks every feature of every cycle and every feature of the
// recording against make_reference.py (SciPy 1.10.1, NumPy 1.24.2), which
// computes them from the definitions in another way. A feature without a check
// value fails.
func TestAgainstSciPy(t *testing.T) {
	ref, in := loadReference(t)
	got, err := NewExtractor().Extract(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Cycles) != len(ref.Cycles) || len(got.Cycles) < 5 {
		t.Fatalf("%d cycles, want %d", len(got.Cycles), len(ref.Cycles))
	}
	for i, c := range got.Cycles {
		for k, f := range cycleFeatures {
			checkValue(t, i, f, c.Values[k], ref.Cycles[i])
		}
	}
	for k, f := range recordingFeatures {
		checkValue(t, -1, f, got.Recording[k], ref.Recording)
	}
}

// checkValue compares a value with its reference: to 1 part in 10⁹, of the
// value or, for what may be near zero, of one unit.
func checkValue(t *testing.T, cycle int, f Feature, got float64, ref map[string]*float64) {
	t.Helper()
	p, ok := ref[f.Name]
	switch {
	case !ok:
		t.Errorf("%s: no check value", f.Name)
	case p == nil:
		if !math.IsNaN(got) {
			t.Errorf("cycle %d: %s is %.12g, want null", cycle, f.Name, got)
		}
	default:
		if !(math.Abs(got-*p) <= 1e-9*math.Max(1, math.Abs(*p))) {
			t.Errorf("cycle %d: %s is %.12g, want %.12g", cycle, f.Name, got, *p)
		}
	}
}
