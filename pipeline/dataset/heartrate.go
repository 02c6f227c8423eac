package dataset

import (
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// HeartRate returns the heart rate of a reference in beats a minute: 60 s over
// the median time from one S1 to the next, over the cycles that are annotated
// whole. With intervals the time runs from onset to onset, over S1, systole, S2
// and diastole with no gap of more than [MaxMend]; with points from centre to
// centre, over an S2 between. ok is false if no cycle is whole.
//
// An S1 at the very start of a recording may have begun before it, so the
// cycle it opens is not whole.
func HeartRate(ref *pcg.Reference) (bpm float64, ok bool) {
	var cycles []time.Duration
	if ref.Kind == pcg.PointReference {
		cycles = pointCycles(ref.Points)
	} else {
		cycles = intervalCycles(ref.Intervals)
	}
	if len(cycles) == 0 {
		return math.NaN(), false
	}
	slices.Sort(cycles)
	n := len(cycles)
	middle := float64(cycles[(n-1)/2]+cycles[n/2]) / 2
	return 60 * float64(time.Second) / middle, true
}

func intervalCycles(iv []pcg.Interval) []time.Duration {
	var cycles []time.Duration
	for c := range pcg.WholeCycles(iv, MaxMend) {
		if c[0] > 0 {
			cycles = append(cycles, c.Length())
		}
	}
	return cycles
}

func pointCycles(p []pcg.Point) []time.Duration {
	var cycles []time.Duration
	for i := 0; i+2 < len(p); i++ {
		if p[i].Sound == pcg.S1 && p[i+1].Sound == pcg.S2 && p[i+2].Sound == pcg.S1 {
			cycles = append(cycles, p[i+2].At-p[i].At)
		}
	}
	return cycles
}

// summariseRates returns nil without any rate.
func summariseRates(bpm []float64) *RateSummary {
	if len(bpm) == 0 {
		return nil
	}
	sorted := slices.Sorted(slices.Values(bpm))
	s := &RateSummary{Recordings: len(sorted), Min: sorted[0], Max: sorted[len(sorted)-1]}
	for d := range s.Deciles {
		s.Deciles[d] = signal.Quantile(sorted, float64(d+1)/10)
	}
	return s
}
