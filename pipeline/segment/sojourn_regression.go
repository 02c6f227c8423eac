package segment

import (
	"errors"
	"fmt"
	"math"
	"time"

	"phonocycle/pipeline/pcg"
)

// sojournRegression holds sojourn laws as functions of the cycle length, estimated
// from annotations. Over recordings, the mean sojourn in each state is regressed
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

// person returns SystolePerson, kept away from the ends where people or recordings
// would not differ at all.
func (c *sojournRegression) person() float64 { return min(max(c.SystolePerson, 0.01), 0.99) }

// systole returns the expected time from the onset of S1 to that of S2.
func (c *sojournRegression) systole(cycle float64) float64 {
	return c.Intercept[0] + c.Intercept[1] + (c.Slope[0]+c.Slope[1])*cycle
}

// shortestMean is the least mean sojourn, in seconds, that a law is given
// however short the cycle.
const shortestMean = 0.03

// Laws implements Timing.
func (c *sojournRegression) Laws(dst *Laws, h Hypothesis) {
	mean := func(j int) float64 { return c.Intercept[j] + c.Slope[j]*h.Cycle }
	s1, s2 := mean(0), mean(2)
	means := [4]float64{s1, h.Systole - s1, s2, h.Cycle - h.Systole - s2}
	sds := [4]float64{c.SD[0], c.SD[1], c.SD[2], c.DiastoleSD * h.Cycle}
	for j := range dst {
		m := math.Max(means[j], shortestMean) * FrameRate
		sd := sds[j] * FrameRate
		dst[j].SetGaussian(m, sd, m-regressionCut*sd-1, m+regressionCut*sd+1)
	}
}

// regressionCut is the number of standard deviations at which sojourn laws are cut,
// beyond one frame for the grid of the frames.
const regressionCut = 3.5

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
	for i := 0; i+4 < len(ivs); i++ {
		if ivs[i].State != pcg.S1 {
			continue
		}
		whole := true
		for k := 1; k <= 4; k++ {
			prev, next := ivs[i+k-1], ivs[i+k]
			whole = whole && next.State == prev.State.Next() && next.Start-prev.End <= closedGap
		}
		if !whole {
			continue
		}
		var c cycleSojourns
		for k := range c {
			c[k] = (ivs[i+k+1].Start - ivs[i+k].Start).Seconds()
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

// ErrFewCycles is wrapped where annotations are too few to estimate sojourns.
var ErrFewCycles = errors.New("too few annotated cycles")

// personReference is the reference of a recording with the person it is of.
type personReference struct {
	person    string
	intervals []pcg.Interval
}

// estimateRegression estimates the laws from references, one a recording.
func estimateRegression(references []personReference) (*sojournRegression, error) {
	var means []cycleSojourns
	var people []string
	var within [4]float64
	cycles := 0.0
	for _, r := range references {
		cs := wholeCycles(r.intervals)
		if len(cs) < leastCycles {
			continue
		}
		m := meanSojourns(cs)
		means = append(means, m)
		people = append(people, r.person)
		for _, c := range cs {
			for j := range c {
				d := c[j] - m[j]
				if j == 3 {
					d /= m.length()
				}
				within[j] += d * d
			}
		}
		cycles += float64(len(cs) - 1)
	}
	if len(means) < leastRecordings {
		return nil, fmt.Errorf("%w: %d recordings have %d whole cycles or more: want at least %d", ErrFewCycles, len(means), leastCycles, leastRecordings)
	}
	t := new(sojournRegression)
	if err := t.regress(means); err != nil {
		return nil, err
	}
	t.SystolePerson = t.personShare(means, people)
	for j := range t.SD {
		t.SD[j] = math.Sqrt(within[j] / cycles)
	}
	t.DiastoleSD = math.Sqrt(within[3] / cycles)
	if err := t.check(); err != nil {
		return nil, err
	}
	return t, nil
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

// regress fits the lines by least squares.
func (c *sojournRegression) regress(means []cycleSojourns) error {
	n := float64(len(means))
	var mx, sxx float64
	for _, m := range means {
		mx += m.length() / n
	}
	for _, m := range means {
		sxx += (m.length() - mx) * (m.length() - mx)
	}
	if sxx == 0 {
		return fmt.Errorf("%w: all cycles last %.3f s: sojourns cannot be related to the cycle length", ErrFewCycles, mx)
	}
	for j := range c.Slope {
		var my, sxy float64
		for _, m := range means {
			my += m[j] / n
			sxy += (m.length() - mx) * m[j]
		}
		c.Slope[j] = sxy / sxx
		c.Intercept[j] = my - c.Slope[j]*mx
	}
	var ss float64
	for _, m := range means {
		r := m[0] + m[1] - c.systole(m.length())
		ss += r * r
	}
	c.SystoleSD = math.Sqrt(ss / (n - 2))
	return nil
}

// personShare estimates the share of people in the variance of the S1–S2 interval
// about its regression, by the analysis of variance with groups of unequal size
// (Searle, Casella and McCulloch 1992, Variance Components, chapter 3; from
// memory): with n recordings of k people, n_i of person i,
//
//	within = SSW/(n − k),  between = (SSB/(k − 1) − within) / n₀,
//	n₀ = (n − Σ n_i²/n)/(k − 1),
//
// a negative estimate counting as zero. It is zero where nobody has two recordings.
func (c *sojournRegression) personShare(means []cycleSojourns, people []string) float64 {
	type group struct{ n, sum float64 }
	groups := make(map[string]group)
	departure := func(m cycleSojourns) float64 { return m[0] + m[1] - c.systole(m.length()) }
	for i, m := range means {
		g := groups[people[i]]
		groups[people[i]] = group{g.n + 1, g.sum + departure(m)}
	}
	n, k := float64(len(means)), float64(len(groups))
	if k < 2 || n == k {
		return 0
	}
	// Departures from a least-squares line add up to zero, so that each group's
	// mean is its distance from the mean of all.
	var ssw, ssb, squares float64
	for i, m := range means {
		g := groups[people[i]]
		mean := g.sum / g.n
		ssw += (departure(m) - mean) * (departure(m) - mean)
		ssb += mean * mean
		squares += g.n
	}
	within := ssw / (n - k)
	between := math.Max(0, (ssb/(k-1)-within)/((n-squares/n)/(k-1)))
	if between+within == 0 {
		return 0
	}
	return between / (between + within)
}

// steepest bounds the coefficients of the lines: a sojourn is a part of a cycle.
const steepest = 3

// check refuses laws that cannot be used, as a damaged model may hold.
func (c *sojournRegression) check() error {
	for j := range c.Slope {
		if !(math.Abs(c.Intercept[j]) <= steepest && math.Abs(c.Slope[j]) <= steepest) {
			return fmt.Errorf("sojourns of %v: line %g + %g c: want both coefficients within ±%d", pcg.Cycle[j], c.Intercept[j], c.Slope[j], steepest)
		}
	}
	for _, sd := range []float64{c.SD[0], c.SD[1], c.SD[2], c.DiastoleSD, c.SystoleSD} {
		if !(sd > 0 && sd < 1) {
			return fmt.Errorf("sojourns: standard deviation %g: want more than 0 and less than 1", sd)
		}
	}
	if !(c.SystolePerson >= 0 && c.SystolePerson <= 1) {
		return fmt.Errorf("sojourns: share %g of people in the variance of systole: want 0 to 1", c.SystolePerson)
	}
	return nil
}
