package features

import (
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

const (
	liu2016 = "Liu et al. 2016, Physiol Meas 37:2181, doi 10.1088/0967-3334/37/12/2181"
	never   = "never"
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
	rows := []Feature{{
		Name: "rr_interval_s", Unit: "s",
		Definition: "RR = start of the next S1 − start of S1",
		ofCycle:    func(c *cycle) float64 { return c.at.rr().Seconds() },
	}}
	for i, s := range pcg.Cycle {
		rows = append(rows, Feature{
			Name: prefix(s) + "duration_s", Unit: "s",
			Definition: "end of " + s.String() + " − start of " + s.String(),
			ofCycle:    func(c *cycle) float64 { return c.at.state(i).Seconds() },
		})
	}
	rows = append(rows,
		Feature{
			Name: "systole_to_rr_percent", Unit: "%",
			Definition: "100 · duration of systole / RR",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(systole), c.at.rr()) },
		},
		Feature{
			Name: "diastole_to_rr_percent", Unit: "%",
			Definition: "100 · duration of diastole / RR",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(diastole), c.at.rr()) },
		},
		Feature{
			Name: "systole_to_diastole_percent", Unit: "%",
			Definition: "100 · duration of systole / duration of diastole",
			ofCycle:    func(c *cycle) float64 { return percent(c.at.state(systole), c.at.state(diastole)) },
		},
		Feature{
			Name: "s1_to_s2_interval_s", Unit: "s", Source: "common practice",
			Definition: "start of S2 − start of S1: the mechanical systole",
			ofCycle:    func(c *cycle) float64 { return (c.at[2] - c.at[0]).Seconds() },
		},
		Feature{
			Name: "s2_to_s1_interval_s", Unit: "s", Source: "common practice",
			Definition: "start of the next S1 − start of S2: the mechanical diastole",
			ofCycle:    func(c *cycle) float64 { return (c.at[4] - c.at[2]).Seconds() },
		},
		Feature{
			Name: "s1_to_s2_interval_to_rr_percent", Unit: "%", Source: "common practice",
			Definition: "100 · (start of S2 − start of S1) / RR: the part of the cycle in which the ventricles eject, a share of time and not of volume",
			ofCycle:    func(c *cycle) float64 { return percent(c.at[2]-c.at[0], c.at.rr()) },
		},
	)
	for i := range rows {
		f := &rows[i]
		f.Range, f.Null, f.Statistics = "> 0", never, Four
		if f.Source == "" {
			f.Source = liu2016
		}
		switch f.Name {
		case "systole_to_rr_percent", "diastole_to_rr_percent", "s1_to_s2_interval_to_rr_percent":
			f.Range = "0 to 100"
		}
	}
	return rows
}

// rateFeatures are what the cycles say about the rate and its variation.
func rateFeatures() []Feature {
	return []Feature{
		{
			Name: "cycles", Unit: "1", Range: "whole, ≥ 0", Null: never, Source: "ours",
			Definition:  "number of whole cycles: S1, systole, S2 and diastole without a gap, followed by an S1, and not beginning with the recording",
			ofRecording: func(r *recording) float64 { return float64(len(r.cycles)) },
		},
		{
			Name: "heart_rate_per_min", Unit: "1/min", Range: "> 0", Null: "no whole cycle", Source: "common practice",
			Definition:  "60 / mean RR in seconds",
			ofRecording: heartRate,
		},
	}
}

func heartRate(r *recording) float64 {
	var total time.Duration
	for _, b := range r.cycles {
		total += b.rr()
	}
	return ratio(60*float64(len(r.cycles)), total.Seconds())
}
