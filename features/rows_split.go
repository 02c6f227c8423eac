package features

import "math"

// splitFeatures look for the two parts of S2, the closing of the aortic and of
// the pulmonary valve.
func splitFeatures() []Feature {
	const how = "the highest maximum of A in S2, smoothed by a Hann window of 21 ms, and the higher of the highest ones 15 to 100 ms before and after it, where it has at least 0.2 of the height and the dip between is at least 5 % deep"
	return []Feature{
		{
			Name: "s2_split_s", Unit: "s", Range: "0.015 to 0.100", Source: ours, Statistics: Four,
			Definition: "distance between " + how + ": an estimate of the split of S2",
			Null:       "no such pair, or S2 is shorter than 40 ms or silent (RMS of y below 1e-9 FS)",
			ofCycle: func(c *cycle) float64 {
				if c.split.confidence == 0 {
					return math.NaN()
				}
				return c.split.seconds
			},
		},
		{
			Name: "s2_split_confidence", Unit: "1", Range: "0 to 1", Source: ours, Statistics: Four,
			Definition: "1 − lowest value between / lower height, of " + how + "; 0 if there is no such pair, and up to 0.2 often noise or the beating of partials",
			Null:       "S2 is shorter than 40 ms or silent (RMS of y below 1e-9 FS)",
			ofCycle:    func(c *cycle) float64 { return c.split.confidence },
		},
	}
}
