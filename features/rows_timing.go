package features

import (
	"fmt"
	"time"

	"phonocycle/pipeline/pcg"
)

// percent returns 100 a/b.
func percent(a, b time.Duration) float64 { return 100 * float64(a) / float64(b) }

// timingFeatures are the intervals of the cycle. Times are those of the
// segmentation, in whole nanoseconds, so that the four states add up to RR
// exactly before they become seconds. The percentages are those of Liu et al.
func timingFeatures() []Feature {
	measure := func(name, unit, limits, source, definition string, of func(*pcg.CycleTimes) float64) Feature {
		return Feature{
			Name: name, Unit: unit, Range: limits, Source: source, Definition: definition,
			Null: never, Statistics: Four,
			ofCycle: func(c *cycle) float64 { return of(&c.at) },
		}
	}
	rows := []Feature{measure("rr_interval_s", "s", "> 0", liu2016, "RR = start of the next S1 − start of S1",
		func(t *pcg.CycleTimes) float64 { return t.Length().Seconds() })}
	for i, s := range pcg.Cycle {
		rows = append(rows, measure(prefix(s)+"duration_s", "s", "> 0", liu2016, fmt.Sprintf("end of %v − start of %v", s, s),
			func(t *pcg.CycleTimes) float64 { return t.StateLength(i).Seconds() }))
	}
	return append(rows,
		measure("systole_to_rr_percent", "%", "0 to 100", liu2016, "100 · duration of systole / RR",
			func(t *pcg.CycleTimes) float64 { return percent(t.StateLength(systole), t.Length()) }),
		measure("diastole_to_rr_percent", "%", "0 to 100", liu2016, "100 · duration of diastole / RR",
			func(t *pcg.CycleTimes) float64 { return percent(t.StateLength(diastole), t.Length()) }),
		measure("systole_to_diastole_percent", "%", "> 0", liu2016, "100 · duration of systole / duration of diastole",
			func(t *pcg.CycleTimes) float64 { return percent(t.StateLength(systole), t.StateLength(diastole)) }),
		measure("s1_to_s2_interval_s", "s", "> 0", practice, "start of S2 − start of S1: the mechanical systole",
			func(t *pcg.CycleTimes) float64 { return (t[2] - t[0]).Seconds() }),
		measure("s2_to_s1_interval_s", "s", "> 0", practice, "start of the next S1 − start of S2: the mechanical diastole",
			func(t *pcg.CycleTimes) float64 { return (t[4] - t[2]).Seconds() }),
		measure("s1_to_s2_interval_to_rr_percent", "%", "0 to 100", practice,
			"100 · (start of S2 − start of S1) / RR: the part of the cycle in which the ventricles eject, a share of time and not of volume",
			func(t *pcg.CycleTimes) float64 { return percent(t[2]-t[0], t.Length()) }),
		measure("s2_to_s1_interval_to_s1_to_s2_interval_ratio", "1", "> 0", practice,
			"(start of the next S1 − start of S2) / (start of S2 − start of S1)",
			func(t *pcg.CycleTimes) float64 { return float64(t[4]-t[2]) / float64(t[2]-t[0]) }),
	)
}
