package features

import (
	"math"
	"time"

	"phonocycle/pipeline/pcg"
)

const (
	forNormalBeats = "Task Force of the ESC and NASPE 1996, Circulation 93:1043, doi 10.1161/01.CIR.93.5.1043, for intervals between normal beats of an ECG; applied to "
	noPair         = "no whole cycle directly follows another"
	fewCycles      = "fewer than 3 whole cycles, or all RR equal"
)

// rateFeatures are what the cycles say about the heart rate and its variation
// from beat to beat. A pair of successive cycles is one where the second
// begins as the first ends.
func rateFeatures() []Feature {
	rows := []Feature{
		{
			Name: "cycles_count", Unit: "1", Range: "whole, ≥ 0", Null: never, Source: ours,
			Definition:  "number of whole cycles: S1, systole, S2 and diastole without a gap, followed by an S1, and not beginning with the recording",
			ofRecording: func(r *recording) float64 { return float64(len(r.cycles)) },
		},
		{
			Name: "cycles_share", Unit: "1", Range: "0 to 1", Null: "the recording is empty", Source: ours,
			Definition:  "time in whole cycles / duration of the recording",
			ofRecording: func(r *recording) float64 { return ratio(r.totalRR().Seconds(), r.length.Seconds()) },
		},
		{
			Name: "heart_rate_per_min", Unit: "1/min", Range: "> 0", Null: "no whole cycle", Source: practice,
			Definition:  "60 / mean RR in seconds",
			ofRecording: func(r *recording) float64 { return ratio(60*float64(len(r.cycles)), r.totalRR().Seconds()) },
		},
		{
			Name: "rr_coefficient_of_variation", Unit: "1", Range: "≥ 0", Null: "fewer than 2 whole cycles", Source: practice,
			Definition:  "standard deviation (n − 1) of RR / mean RR",
			ofRecording: variationOfRR,
		},
		{
			Name: "rr_successive_over_50_ms_share", Unit: "1", Range: "0 to 1", Null: noPair, Source: forNormalBeats + "RR of heart sounds",
			Definition:  "share of the pairs of successive cycles whose RR differ by more than 50 ms (pNN50)",
			ofRecording: shareOver50ms,
		},
		{
			Name: "s1_to_s2_interval_on_rr_slope", Unit: "1", Range: "any", Null: fewCycles, Source: practice,
			Definition:  "slope of the least-squares line of s1_to_s2_interval_s on rr_interval_s",
			ofRecording: func(r *recording) float64 { slope, _ := systoleOnRR(r.cycles); return slope },
		},
		{
			Name: "s1_to_s2_interval_rr_correlation", Unit: "1", Range: "−1 to 1", Null: fewCycles + ", or all s1_to_s2_interval_s equal", Source: practice,
			Definition:  "Pearson's correlation of s1_to_s2_interval_s and rr_interval_s",
			ofRecording: func(r *recording) float64 { _, c := systoleOnRR(r.cycles); return c },
		},
	}
	for _, of := range []struct {
		name string
		span func(*pcg.CycleTimes) time.Duration
	}{
		{"rr_interval", (*pcg.CycleTimes).Length},
		{"systole", func(b *pcg.CycleTimes) time.Duration { return b.StateLength(systole) }},
		{"diastole", func(b *pcg.CycleTimes) time.Duration { return b.StateLength(diastole) }},
	} {
		rows = append(rows, Feature{
			Name: of.name + "_rmssd_s", Unit: "s", Range: "≥ 0", Null: noPair, Source: forNormalBeats + "the " + of.name,
			Definition:  "√(mean of (T′ − T)²) over pairs of successive cycles, T the length of the " + of.name,
			ofRecording: func(r *recording) float64 { return rmssd(r.cycles, of.span) },
		})
	}
	return rows
}

// totalRR returns the time in whole cycles.
func (r *recording) totalRR() time.Duration {
	var total time.Duration
	for i := range r.cycles {
		total += r.cycles[i].Length()
	}
	return total
}

func variationOfRR(r *recording) float64 {
	n := float64(len(r.cycles))
	m := r.totalRR().Seconds() / n
	var s float64
	for i := range r.cycles {
		d := r.cycles[i].Length().Seconds() - m
		s += d * d
	}
	return ratio(math.Sqrt(ratio(s, n-1)), m)
}

// rmssd returns the root mean square of the differences of span between
// successive cycles.
func rmssd(cycles []pcg.CycleTimes, span func(*pcg.CycleTimes) time.Duration) float64 {
	var sum, pairs float64
	for i := 1; i < len(cycles); i++ {
		a, b := &cycles[i-1], &cycles[i]
		if a[4] == b[0] {
			d := (span(b) - span(a)).Seconds()
			sum += d * d
			pairs++
		}
	}
	return math.Sqrt(ratio(sum, pairs))
}

func shareOver50ms(r *recording) float64 {
	var over, pairs float64
	for i := 1; i < len(r.cycles); i++ {
		a, b := &r.cycles[i-1], &r.cycles[i]
		if a[4] == b[0] {
			pairs++
			if (b.Length() - a.Length()).Abs() > 50*time.Millisecond {
				over++
			}
		}
	}
	return ratio(over, pairs)
}

// systoleOnRR returns the slope of S1-to-S2 on RR and their correlation.
func systoleOnRR(cycles []pcg.CycleTimes) (slope, correlation float64) {
	n := float64(len(cycles))
	if n < 3 {
		return math.NaN(), math.NaN()
	}
	var mx, my float64
	for i := range cycles {
		mx += cycles[i].Length().Seconds()
		my += (cycles[i][2] - cycles[i][0]).Seconds()
	}
	mx /= n
	my /= n
	var xx, xy, yy float64
	for i := range cycles {
		x := cycles[i].Length().Seconds() - mx
		y := (cycles[i][2] - cycles[i][0]).Seconds() - my
		xx += x * x
		xy += x * y
		yy += y * y
	}
	// Equal lengths leave only the rounding of their mean, far below 1 ns.
	if xx < 1e-18*n {
		return math.NaN(), math.NaN()
	}
	if yy < 1e-18*n {
		return xy / xx, math.NaN()
	}
	return xy / xx, xy / math.Sqrt(xx*yy)
}
