package features

import (
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

const (
	liu2016  = "Liu et al. 2016, Physiol Meas 37:2181, doi 10.1088/0967-3334/37/12/2181"
	practice = "common practice"
	ours     = "ours"
	never    = "never"
)

// prefix returns the beginning of the names of a state's features.
func prefix(s pcg.State) string { return strings.ToLower(s.String()) + "_" }

// rr returns the time from the start of S1 to the start of the next S1.
func (b *bounds) rr() time.Duration { return b[4] - b[0] }

// state returns the length of the i-th state of the cycle.
func (b *bounds) state(i int) time.Duration { return b[i+1] - b[i] }

// percent returns 100 a/b.
func percent(a, b time.Duration) float64 { return 100 * float64(a) / float64(b) }

// The places of the states within a cycle.
const (
	s1 = iota
	systole
	s2
	diastole
)

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
			ofCycle:    func(c *cycle) float64 { return percent(c.at[2]-c.at[0], c.at.rr()) },
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
		ofCycle:    func(c *cycle) float64 { return c.at.rr().Seconds() },
	}}
	for i, s := range pcg.Cycle {
		rows = append(rows, Feature{
			Name: prefix(s) + "duration_s", Unit: "s", Range: "> 0", Source: liu2016,
			Definition: "end of " + s.String() + " − start of " + s.String(),
			ofCycle:    func(c *cycle) float64 { return c.at.state(i).Seconds() },
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
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(systole), c.at.rr()) },
		},
		{
			Name: "diastole_to_rr_percent", Unit: "%", Range: "0 to 100", Source: liu2016,
			Definition: "100 · duration of diastole / RR",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(diastole), c.at.rr()) },
		},
		{
			Name: "systole_to_diastole_percent", Unit: "%", Range: "> 0", Source: liu2016,
			Definition: "100 · duration of systole / duration of diastole",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(systole), c.at.state(diastole)) },
		},
	}
}
