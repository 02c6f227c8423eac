package degraded

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/synth/degrade"
)

// TestAgainstSciPy holds what testdata/degrade/measure.py measured with SciPy of the
// copies of a recording, and makes sure that they are the copies of today. On other
// processors than amd64 the last bit of a sum may differ, and with it a sample.
func TestAgainstSciPy(t *testing.T) {
	content, err := os.ReadFile(filepath.Join("..", "..", "testdata", "degrade", "measured.json"))
	if err != nil {
		t.Fatal(err)
	}
	var measured struct {
		Recording string
		Copies    []struct {
			Condition, SHA256 string
			Measured          map[string]float64
		}
	}
	if err := json.Unmarshal(content, &measured); err != nil {
		t.Fatal(err)
	}
	data := t.TempDir()
	if err := synth.WriteMany(context.Background(), data, 1, time.Minute, 1); err != nil {
		t.Fatal(err)
	}
	type bounds struct{ low, high float64 }
	about := func(v, off float64) bounds { return bounds{v - off, v + off} }
	want := map[string]map[string]bounds{
		"noise=pink,snr=5":           {"snr_db": about(5, 0.1), "slope_db_per_decade": about(-10, 0.2)},
		"noise=pink,snr=-10":         {"snr_db": about(-10, 0.1), "slope_db_per_decade": about(-10, 0.2)},
		"noise=white,snr=0":          {"snr_db": about(0, 0.1), "slope_db_per_decade": about(0, 0.2)},
		"noise=brown,snr=20":         {"snr_db": about(20, 0.1), "slope_db_per_decade": about(-20, 0.2)},
		"clip=0.01":                  {"share": about(0.01, 0.0001), "other_change": about(0, 0)},
		"clip=0.1":                   {"share": about(0.1, 0.0001), "other_change": about(0, 0)},
		"bits=8":                     {"step": about(1./128, 0), "largest_error": about(0, 1./256), "rms_error": {0.001, 1. / 128 / math.Sqrt(12)}},
		"bits=10":                    {"step": about(1./512, 0), "largest_error": about(0, 1./1024), "rms_error": about(1./512/math.Sqrt(12), 0.00001)},
		"gaps=0.05,gap-length=200ms": {"share_of_other_than_zero": about(0.05, 0.0002), "gaps_of_200_ms": {12, 15}, "elsewhere": about(0, 0)},
		"low-cut=40":                 {"largest_difference": about(0, 0.0001)},
		"high-cut=150":               {"largest_difference": about(0, 0.0001)},
		"rate=500":                   {"rate_hz": about(500, 0), "rms_difference_below_150_hz": about(0, 0.00001)},
	}
	if len(measured.Copies) != len(want) {
		t.Errorf("%d copies were measured, want %d", len(measured.Copies), len(want))
	}
	for _, m := range measured.Copies {
		for key, b := range want[m.Condition] {
			if v, ok := m.Measured[key]; !ok || !(v >= b.low && v <= b.high) {
				t.Errorf("%s: %s is %v, want %g to %g", m.Condition, key, v, b.low, b.high)
			}
		}
		out := t.TempDir()
		condition, err := degrade.Parse(m.Condition)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Write(context.Background(), Options{
			Input: config.Input{Data: data, Layout: filepath.Join(data, "many.yaml")}, Condition: condition, Seed: 1, Out: out, Workers: 1,
		}, nil)
		if err != nil {
			t.Fatal(err)
		}
		audio, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(measured.Recording)))
		if err != nil {
			t.Fatal(err)
		}
		digest := fmt.Sprintf("%x", sha256.Sum256(audio))
		if runtime.GOARCH == "amd64" && digest != m.SHA256 {
			t.Errorf("%s: another copy than the one that was measured: run testdata/degrade/measure.py and read what changes", m.Condition)
		}
		if of := r.Copy.Of(measured.Recording); of == nil || of.Digest != digest || of.Outcome != dataset.CopyChanged {
			t.Errorf("%s: the record says %+v", m.Condition, of)
		}
	}
}
