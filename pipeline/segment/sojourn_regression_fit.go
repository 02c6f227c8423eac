package segment

import (
	"errors"
	"fmt"
	"math"
	"time"

	"phonocycle/pipeline/pcg"
)

// cycleSojourns are the sojourns of one whole cycle, in seconds.
type cycleSojourns [4]float64

func (c cycleSojourns) length() float64 { return c[0] + c[1] + c[2] + c[3] }

// closedGap is the longest gap between two rows of a reference that is taken for
// rounding.
const closedGap = 5 * time.Millisecond

// wholeCycles returns the cycles of a reference of which all four states and the
// S1 that follows are annotated, without gaps.
func wholeCycles(ivs []pcg.Interval) []cycleSojourns {
	var cs []cycleSojourns
	for at := range pcg.WholeCycles(ivs, closedGap) {
		var c cycleSojourns
		for k := range c {
			c[k] = at.StateLength(k).Seconds()
		}
		cs = append(cs, c)
	}
	return cs
}

// Numbers below which sojournRegression is not estimated.
const (
	leastCycles     = 3  // of a recording
	leastRecordings = 10 // with so many
)

// errFewCycles is wrapped where annotations are too few to estimate sojourns.
var errFewCycles = errors.New("too few annotated cycles")

// estimateRegression estimates the regression from references, one per recording.
func estimateRegression(references [][]pcg.Interval) (*sojournRegression, error) {
	var all [][]cycleSojourns
	var means []cycleSojourns
	for _, r := range references {
		if cs := wholeCycles(r); len(cs) >= leastCycles {
			all = append(all, cs)
			means = append(means, meanSojourns(cs))
		}
	}
	if len(means) < leastRecordings {
		return nil, fmt.Errorf("%w: %d recordings have %d whole cycles or more: want at least %d", errFewCycles, len(means), leastCycles, leastRecordings)
	}
	t := new(sojournRegression)
	t.regress(means)
	t.SD = t.within(all, means)
	if err := t.check(); err != nil {
		return nil, err
	}
	return t, nil
}

// within returns the standard deviations of sojourns about the means of their
// recording, as shares of spread.
func (c *sojournRegression) within(all [][]cycleSojourns, means []cycleSojourns) (sds [4]float64) {
	cycles := 0
	for i, m := range means {
		spread := c.spread(rhythm{m.length(), m[0] + m[1]})
		for _, sojourns := range all[i] {
			for j, v := range sojourns {
				d := (v - m[j]) / spread[j]
				sds[j] += d * d
			}
		}
		cycles += len(all[i]) - 1
	}
	for j := range sds {
		sds[j] = math.Sqrt(sds[j] / float64(cycles))
	}
	return sds
}

func meanSojourns(cs []cycleSojourns) cycleSojourns {
	var m cycleSojourns
	for _, c := range cs {
		for j := range m {
			m[j] += c[j] / float64(len(cs))
		}
	}
	return m
}

// regress fits the lines by least squares, that of S1–S2 to the recordings and to
// the adults in print.
func (c *sojournRegression) regress(means []cycleSojourns) {
	systole := adultSystole()
	var s1, s2 []linePoint
	for _, m := range means {
		cycle := m.length()
		sounding := math.Min(cycle, restingCycle)
		systole = append(systole, linePoint{cycle, m[0] + m[1], 1})
		s1 = append(s1, linePoint{sounding, m[0], 1})
		s2 = append(s2, linePoint{sounding, m[2], 1})
	}
	c.S1S2, c.S1, c.S2 = fitLine(systole), fitLine(s1), fitLine(s2)
	var ss float64
	for _, m := range means {
		r := c.departure(m) / c.systole(m.length())
		ss += r * r
	}
	c.SystoleSD = math.Sqrt(ss / float64(len(means)-2))
}

// linePoint is a duration at a cycle length, both in seconds, that counts as many
// observations.
type linePoint struct{ cycle, duration, weight float64 }

// fitLine fits a line by weighted least squares; it is level where all cycles are
// of one length.
func fitLine(points []linePoint) regressionLine {
	var n, mx, my float64
	for _, p := range points {
		n += p.weight
		mx += p.weight * math.Log(p.cycle)
		my += p.weight * p.duration
	}
	mx, my = mx/n, my/n
	var sxx, sxy float64
	for _, p := range points {
		d := math.Log(p.cycle) - mx
		sxx += p.weight * d * d
		sxy += p.weight * d * (p.duration - my)
	}
	if sxx < 1e-9*n {
		return regressionLine{Intercept: my}
	}
	slope := sxy / sxx
	return regressionLine{Intercept: my - slope*mx, Slope: slope}
}

// adultWeight is the number of recordings that each of adultSystole counts as: with
// them six rates at rest stand for sixty people (a choice of ours; Weissler measured 211).
const adultWeight = 10

// adultSystole returns published intervals of adults, which tie the line of S1–S2
// where annotated recordings of children do not reach, and where there are few of
// them: electromechanical systole QS2 less the 70 ms from Q to S1 (within the 50 to
// 80 ms of common practice), in ms at HR beats a minute,
//
//	rest      QS2 = 547.5 − 2.05·HR, 40 to 90 a minute, the mean of men and women
//	          (Weissler, Harris and Schoenfeld 1968, Circulation 37:149; from memory, high confidence)
//	exercise  QS2 = 480 − 1.4·HR, 110 to 180 a minute (Sugiura 1987, Am J Cardiol 59:1089).
func adultSystole() []linePoint {
	const qToS1 = 70
	var points []linePoint
	add := func(rate, qs2 float64) {
		points = append(points, linePoint{60 / rate, (qs2 - qToS1) / 1000, adultWeight})
	}
	for rate := 40.0; rate <= 90; rate += 10 {
		add(rate, 547.5-2.05*rate)
	}
	for rate := 110.0; rate <= 180; rate += 10 {
		add(rate, 480-1.4*rate)
	}
	return points
}

// departure returns by how much the S1–S2 interval of a cycle exceeds that of the
// regression.
func (c *sojournRegression) departure(m cycleSojourns) float64 {
	return m[0] + m[1] - c.systole(m.length())
}
