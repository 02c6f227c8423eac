package segment

import (
	"fmt"
	"math"

	"phonocycle/pipeline/segment/hsmm"
)

// sojournRegression holds sojourn distributions as functions of the cycle length
// c in seconds, estimated from annotations beside published intervals of adults:
//
//	S1–S2(c) = intercept + slope · ln c      from the onset of S1 to that of S2
//	S1(c), S2(c) = intercept + slope · ln min(c, restingCycle)
//	systole = S1–S2 − S1,   diastole = c − S1–S2 − S2
//
// The form has to hold from 40 to 220 beats a minute, beyond the rates that are
// annotated. Systole shortens with the rate, but less than in proportion. In
// children at 60 to 160 a minute, lines on c, on the rate 60/c and on ln c fit alike
// (residual SD 17.4 to 17.8 ms), but only the last extrapolates well: at 46 a minute
// the first gives 429 ms, where adults have 379 (Weissler, see adultSystole); at 220
// the second leaves 99 ms, less than both sounds last. The logarithm gives 374 and
// 146 ms. A sound is a vibration of valves and walls, and no slow rate makes it
// longer than it is at rest.
//
// Hearts differ: S1–S2 scatters around its regression by SystoleSD from recording
// to recording, and diastole gives what systole takes.
//
// All scatter is in proportion to what scatters (see spread): in children, sounds
// and systole vary by a third less at 150 beats a minute than at 80. A spread of
// constant length would hold fast hearts for more variable than they are, and
// leave rhythms of half the true cycle too free.
type sojournRegression struct {
	S1S2      regressionLine `json:"s1_s2"`
	S1        regressionLine `json:"s1"`
	S2        regressionLine `json:"s2"`
	SD        [4]float64     `json:"sd_share"`         // of the states within a recording, as shares of spread
	SystoleSD float64        `json:"systole_sd_share"` // of S1–S2 between recordings, as a share of it
}

// restingCycle is the cycle, in seconds, from which sounds and the spread of
// diastole grow no more: 80 beats a minute (a choice of ours). The spread is then some
// 50 ms, as is the SD of the cycle in resting adults (50 ± 16 ms in five minutes,
// Nunan, Sandercock and Brodie 2010, Pacing Clin Electrophysiol 33:1407; from
// memory, high confidence).
const restingCycle = 0.75

// regressionLine is a line on the logarithm of the cycle length: a duration in
// seconds of Intercept at a cycle of one second, and Slope more for each factor e.
type regressionLine struct {
	Intercept float64 `json:"intercept_s"`
	Slope     float64 `json:"slope_s"`
}

func (l regressionLine) at(cycle float64) float64 { return l.Intercept + l.Slope*math.Log(cycle) }

// systole returns the expected time from the onset of S1 to that of S2.
func (c *sojournRegression) systole(cycle float64) float64 { return c.S1S2.at(cycle) }

// shortestMean is the least mean sojourn, in seconds, however short the cycle.
const shortestMean = 0.03

// set fills dst with the sojourn distributions under a rhythm.
func (c *sojournRegression) set(dst *hsmm.Sojourns, r rhythm) {
	sounding := math.Min(r.cycle, restingCycle)
	s1, s2 := c.S1.at(sounding), c.S2.at(sounding)
	means := [4]float64{s1, r.systole - s1, s2, r.cycle - r.systole - s2}
	sds := c.spread(r)
	for j := range dst {
		m := math.Max(means[j], shortestMean) * frameRate
		sd := c.SD[j] * sds[j] * frameRate
		dst[j].SetGaussian(m, sd, m-regressionCut*sd-1, m+regressionCut*sd+1)
	}
}

// spread returns the durations, in seconds, in proportion to which the four states
// scatter within a recording of the given rhythm: those of S1, from S1 to S2, of S2 and
// of diastole.
func (c *sojournRegression) spread(r rhythm) [4]float64 {
	resting := math.Min(r.cycle, restingCycle)
	s1, s2, departure := c.S1.at(resting), c.S2.at(resting), r.systole-c.systole(r.cycle)
	d := [4]float64{s1, r.systole, s2, resting - c.systole(resting) - departure - s2}
	for j, v := range d {
		d[j] = math.Max(v, shortestMean)
	}
	return d
}

// ectopicSojourns are those of a regression, in which now and then a beat comes early and
// the next after a pause that makes up for it. The rhythm search does without: what is
// rare tells no rhythm from another.
type ectopicSojourns struct{ *sojournRegression }

// prematureShare is the share of diastoles that have any length up to prematurePause
// beyond the usual. One in a thousand is few enough that noise is seldom taken for
// such beats: an odd diastole costs some ten natural logarithms more than a usual one.
// A beat that comes at 0.6 of the cycle is followed by a diastole 0.4 cycles longer
// than usual, which the pause holds. A pause of a whole missed beat is not among them:
// noise that hides a beat is more frequent, and recordings of children lost 0.2 % of F1
// by it. With envelopes, which are noisier than the network, even premature beats cost
// 0.1 %, so that logistic-hsmm does without. All three numbers are choices of ours.
const (
	prematureShare   = 0.001
	prematurePause   = 0.6  // of a cycle, beyond the usual diastole
	shortestDiastole = 0.05 // s
)

func (e ectopicSojourns) set(dst *hsmm.Sojourns, r rhythm) {
	e.sojournRegression.set(dst, r)
	diastole := &dst[3]
	diastole.Widen(shortestDiastole*frameRate, diastole.Mean()+prematurePause*r.cycle*frameRate, prematureShare)
}

// regressionCut is the number of standard deviations at which the distributions are cut,
// beyond one frame for the grid of the frames.
const regressionCut = 3.5

// steepest bounds the coefficients of the lines, in seconds: a sojourn is a part of
// a cycle.
const steepest = 3

// check refuses coefficients that cannot be used, as a damaged model may hold.
func (c *sojournRegression) check() error {
	values := []valueRange{
		{"timing.systole_sd_share", c.SystoleSD, 0, mostSojournSD},
	}
	names := [...]string{"s1_s2", "s1", "s2"}
	for j, l := range [...]regressionLine{c.S1S2, c.S1, c.S2} {
		values = append(values,
			valueRange{"timing." + names[j] + ".intercept_s", l.Intercept, -steepest, steepest},
			valueRange{"timing." + names[j] + ".slope_s", l.Slope, -steepest, steepest})
	}
	for j, sd := range c.SD {
		values = append(values, valueRange{fmt.Sprintf("timing.sd_share[%d]", j), sd, leastSojournSD, mostSojournSD})
	}
	return checkRanges(values...)
}
