package features

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// percent returns 100 a/b.
func percent(a, b time.Duration) float64 { return 100 * float64(a) / float64(b) }

// timingFeatures are the intervals of the cycle. Times are those of the
// segmentation, in whole nanoseconds, so that the four states add up to RR
// exactly before they become seconds.
func timingFeatures() []Feature {
	rows := append(stateDurations(), classicalPercentages()...)
	rows = append(rows,
		Feature{
			Name: "s1_to_s2_interval_s", Unit: "s", Range: "> 0", Source: practice,
			Definition: "start of S2 − start of S1: the mechanical systole",
			ofCycle:    func(c *cycle) float64 { return (c.at[2] - c.at[0]).Seconds() },
		},
		Feature{
			Name: "s2_to_s1_interval_s", Unit: "s", Range: "> 0", Source: practice,
			Definition: "start of the next S1 − start of S2: the mechanical diastole",
			ofCycle:    func(c *cycle) float64 { return (c.at[4] - c.at[2]).Seconds() },
		},
		Feature{
			Name: "s1_to_s2_interval_to_rr_percent", Unit: "%", Range: "0 to 100", Source: practice,
			Definition: "100 · (start of S2 − start of S1) / RR: the part of the cycle in which the ventricles eject, a share of time and not of volume",
			ofCycle:    func(c *cycle) float64 { return percent(c.at[2]-c.at[0], c.at.Length()) },
		},
		Feature{
			Name: "s2_to_s1_interval_to_s1_to_s2_interval_ratio", Unit: "1", Range: "> 0", Source: practice,
			Definition: "(start of the next S1 − start of S2) / (start of S2 − start of S1)",
			ofCycle:    func(c *cycle) float64 { return float64(c.at[4]-c.at[2]) / float64(c.at[2]-c.at[0]) },
		},
	)
	for i := range rows {
		rows[i].Null, rows[i].Statistics = never, Four
	}
	return rows
}

// stateDurations are RR and the durations of the states.
func stateDurations() []Feature {
	rows := []Feature{{
		Name: "rr_interval_s", Unit: "s", Range: "> 0", Source: liu2016,
		Definition: "RR = start of the next S1 − start of S1",
		ofCycle:    func(c *cycle) float64 { return c.at.Length().Seconds() },
	}}
	for i, s := range pcg.Cycle {
		rows = append(rows, Feature{
			Name: prefix(s) + "duration_s", Unit: "s", Range: "> 0", Source: liu2016,
			Definition: "end of " + s.String() + " − start of " + s.String(),
			ofCycle:    func(c *cycle) float64 { return c.at.StateLength(i).Seconds() },
		})
	}
	return rows
}

// classicalPercentages relate the durations as Liu et al. do.
func classicalPercentages() []Feature {
	return []Feature{
		{
			Name: "systole_to_rr_percent", Unit: "%", Range: "0 to 100", Source: liu2016,
			Definition: "100 · duration of systole / RR",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.StateLength(systole), c.at.Length()) },
		},
		{
			Name: "diastole_to_rr_percent", Unit: "%", Range: "0 to 100", Source: liu2016,
			Definition: "100 · duration of diastole / RR",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.StateLength(diastole), c.at.Length()) },
		},
		{
			Name: "systole_to_diastole_percent", Unit: "%", Range: "> 0", Source: liu2016,
			Definition: "100 · duration of systole / duration of diastole",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.StateLength(systole), c.at.StateLength(diastole)) },
		},
	}
}
