package segment

import (
	"fmt"
	"math"

	"phonocycle/pipeline/segment/hsmm"
)

// sojournRegression holds sojourn distributions as functions of the cycle length,
// estimated from annotations. Over recordings, the mean sojourn in each state is regressed
// on the mean cycle length c,
//
//	mean_j(c) = intercept_j + slope_j · c,
//
// and since the four sojourns make up the cycle, the intercepts add up to zero
// and the slopes to one. Hearts differ: the time from S1 to S2 scatters around
// its regression by SystoleSD from recording to recording, and diastole gives
// what systole takes. Of its variance, the share SystolePerson lies between
// people, the rest between the recordings of one. Within a recording sojourns
// scatter by SD, diastole, which takes up the irregularity of the rhythm, in
// proportion to the cycle.
type sojournRegression struct {
	Intercept  [4]float64 `json:"intercept_s"`
	Slope      [4]float64 `json:"slope"`
	SD         [3]float64 `json:"sd_s"`              // of S1, systole and S2 within a recording
	DiastoleSD float64    `json:"diastole_sd_share"` // the same of diastole, as a share of the cycle

	SystoleSD     float64 `json:"systole_sd_s"`         // of the S1–S2 interval between recordings
	SystolePerson float64 `json:"systole_person_share"` // of its variance, between people
}

// shiftPenalty returns −ln of the prior density of an S1–S2 interval that departs
// by z standard deviations from its regression, up to a constant. The departure
// is the sum of a part p that belongs to the person, with the share ω of the
// variance, and a part that belongs to the recording, both normal:
//
//	penalty(z) = min_p p²/(2ω) + (z − p)²/(2(1 − ω)),
//
// with p on a grid of tenths. The share is kept away from the ends where people or
// recordings would not differ at all.
func (c *sojournRegression) shiftPenalty(z float64) float64 {
	share := min(max(c.SystolePerson, 0.01), 0.99)
	least := math.Inf(1)
	for k := -20; k <= 20; k++ {
		p := float64(k) / 10
		least = min(least, p*p/(2*share)+(z-p)*(z-p)/(2*(1-share)))
	}
	return least
}

// systole returns the expected time from the onset of S1 to that of S2.
func (c *sojournRegression) systole(cycle float64) float64 {
	return c.Intercept[0] + c.Intercept[1] + (c.Slope[0]+c.Slope[1])*cycle
}

// shortestMean is the least mean sojourn, in seconds, however short the cycle.
const shortestMean = 0.03

// set fills dst with the sojourn distributions under a rhythm.
func (c *sojournRegression) set(dst *hsmm.Sojourns, r rhythm) {
	mean := func(j int) float64 { return c.Intercept[j] + c.Slope[j]*r.cycle }
	s1, s2 := mean(0), mean(2)
	means := [4]float64{s1, r.systole - s1, s2, r.cycle - r.systole - s2}
	sds := [4]float64{c.SD[0], c.SD[1], c.SD[2], c.DiastoleSD * r.cycle}
	for j := range dst {
		m := math.Max(means[j], shortestMean) * frameRate
		sd := sds[j] * frameRate
		dst[j].SetGaussian(m, sd, m-regressionCut*sd-1, m+regressionCut*sd+1)
	}
}

// regressionCut is the number of standard deviations at which the distributions are cut,
// beyond one frame for the grid of the frames.
const regressionCut = 3.5

// steepest bounds the coefficients of the lines: a sojourn is a part of a cycle.
const steepest = 3

// check refuses coefficients that cannot be used, as a damaged model may hold.
func (c *sojournRegression) check() error {
	values := []valueRange{
		{"timing.diastole_sd_share", c.DiastoleSD, leastSojournSD, mostSojournSD},
		{"timing.systole_sd_s", c.SystoleSD, 0, mostSojournSD},
		{"timing.systole_person_share", c.SystolePerson, 0, 1},
	}
	for j := range c.Slope {
		values = append(values,
			valueRange{fmt.Sprintf("timing.intercept_s[%d]", j), c.Intercept[j], -steepest, steepest},
			valueRange{fmt.Sprintf("timing.slope[%d]", j), c.Slope[j], -steepest, steepest})
	}
	for j, sd := range c.SD {
		values = append(values, valueRange{fmt.Sprintf("timing.sd_s[%d]", j), sd, leastSojournSD, mostSojournSD})
	}
	return checkRanges(values...)
}
