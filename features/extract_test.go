package features

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// beats returns n cycles' worth of intervals from the given start, each with
// the given lengths of the four states, followed by one more S1.
func beats(start time.Duration, n int, lengths [4]time.Duration) []pcg.Interval {
	var iv []pcg.Interval
	at := start
	for k := range 4*n + 1 {
		end := at + lengths[k%4]
		iv = append(iv, pcg.Interval{Start: at, End: end, State: pcg.Cycle[k%4]})
		at = end
	}
	return iv
}

// noise returns n samples of normal noise with the given standard deviation.
func noise(n int, sd float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 0))
	x := make([]float64, n)
	for i := range x {
		x[i] = sd * r.NormFloat64()
	}
	return x
}

// columnOf returns the place of a cycle feature.
func columnOf(t *testing.T, name string) int {
	t.Helper()
	for i, f := range cycleFeatures {
		if f.Name == name {
			return i
		}
	}
	t.Fatalf("no cycle feature %s", name)
	return -1
}

func TestStatesAddUpToRR(t *testing.T) {
	lengths := [4]time.Duration{123_456_789, 211_111_111, 98_765_433, 401_000_001}
	x := noise(4000, 0.1, 1)
	got, err := NewExtractor().Extract(Input{Raw: x, RawRate: 1000, Wave: signal.NewWaveform(x), Intervals: beats(time.Millisecond, 3, lengths)})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Cycles) != 3 {
		t.Fatalf("%d cycles, want 3", len(got.Cycles))
	}
	for _, c := range got.Cycles {
		sum := (c.At[1] - c.At[0]) + (c.At[2] - c.At[1]) + (c.At[3] - c.At[2]) + (c.At[4] - c.At[3])
		if rr := lengths[0] + lengths[1] + lengths[2] + lengths[3]; sum != rr || c.At[4]-c.At[0] != rr {
			t.Errorf("states add up to %d ns, RR is %d ns, want %d ns", sum, c.At[4]-c.At[0], rr)
		}
		share := 100 * (c.Values[columnOf(t, "s1_duration_s")] + c.Values[columnOf(t, "s2_duration_s")]) / c.Values[columnOf(t, "rr_interval_s")]
		share += c.Values[columnOf(t, "systole_to_rr_percent")] + c.Values[columnOf(t, "diastole_to_rr_percent")]
		if math.Abs(share-100) > 1e-12 {
			t.Errorf("states make up %.15g %% of RR", share)
		}
	}
}
