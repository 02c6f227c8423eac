package signal

import (
	"math"
	"slices"
	"testing"

	"phonocycle/pipeline/simd"

	"github.com/google/go-cmp/cmp"
)

// beating is a tone that swells twice a second, without spikes.
func beating(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		s := math.Sin(2 * math.Pi * float64(i) / 1000)
		x[i] = s * s * math.Sin(2*math.Pi*50*float64(i)/1000)
	}
	return x
}

func TestSpikesAreSilencedToTheirZeroCrossings(t *testing.T) {
	clean := beating(6000)
	x := append([]float64(nil), clean...)
	for i := 2200; i < 2205; i++ {
		x[i] = 10
	}
	x[4100] = -20
	want := append([]float64(nil), x...)
	silenceAround := func(at int) {
		sign := math.Signbit(want[at])
		first, last := at, at
		for want[first-1] != 0 && math.Signbit(want[first-1]) == sign {
			first--
		}
		for want[last+1] != 0 && math.Signbit(want[last+1]) == sign {
			last++
		}
		clear(want[first : last+1])
	}
	silenceAround(2202)
	silenceAround(4100)
	got, removed := NewSpikeRemover(500, 3).Remove(nil, x)
	if removed != 2 {
		t.Errorf("%d spikes removed, want 2", removed)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("samples differ (-want +got):\n%s", diff)
	}
}

func TestSpikeRemovalLeavesAlone(t *testing.T) {
	r := NewSpikeRemover(500, 3)
	for name, x := range map[string][]float64{
		"a signal without spikes": beating(6000),
		"one window":              {0, 100, 0, 1},
		"silence":                 make([]float64, 3000),
		"a mostly silent signal":  append(make([]float64, 3000), beating(1000)...),
	} {
		got, removed := r.Remove(nil, x)
		if removed != 0 || !cmp.Equal(got, x) {
			t.Errorf("%s: %d spikes removed", name, removed)
		}
	}
}

// What is left obeys the rule, whatever came in, and neither gain nor polarity
// matters.
func TestSpikeRemovalInvariants(t *testing.T) {
	r := NewSpikeRemover(500, 3)
	for seed := range uint64(20) {
		x := noise(7300, seed)
		for i := 0; i < len(x); i += 611 {
			x[i] *= float64(i % 37)
		}
		clean, removed := r.Remove(nil, x)
		peaks := make([]float64, 0, 14)
		for w := 0; w < 14; w++ {
			from, to := r.bounds(w, len(x))
			p := simd.MaxAbs(clean[from:to])
			peaks = append(peaks, p)
		}
		worst := simd.MaxAbs(peaks)
		slices.Sort(peaks)
		if limit := 3 * Quantile(peaks, 0.5); worst > limit {
			t.Errorf("seed %d: a window of %g is left where the limit is %g", seed, worst, limit)
		}
		for i, v := range x {
			x[i] = -4 * v
		}
		again, removedAgain := r.Remove(nil, x)
		if removed != removedAgain {
			t.Errorf("seed %d: %d spikes, %d after a change of gain", seed, removed, removedAgain)
		}
		for i, v := range clean {
			if again[i] != -4*v {
				t.Fatalf("seed %d: sample %d is %g, want %g", seed, i, again[i], -4*v)
			}
		}
	}
}
