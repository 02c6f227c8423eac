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
		return nil, fmt.Errorf("%w: %d recordings have %d whole cycles or more: want at least %d", errFewCycles, len(means), leastCycles, leastRecordings)
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
		return fmt.Errorf("%w: all cycles last %.3f s: sojourns cannot be related to the cycle length", errFewCycles, mx)
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
		r := c.departure(m)
		ss += r * r
	}
	c.SystoleSD = math.Sqrt(ss / (n - 2))
	return nil
}

// departure returns by how much the S1–S2 interval of a cycle exceeds that of the
// regression.
func (c *sojournRegression) departure(m cycleSojourns) float64 {
	return m[0] + m[1] - c.systole(m.length())
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
	for i, m := range means {
		g := groups[people[i]]
		groups[people[i]] = group{g.n + 1, g.sum + c.departure(m)}
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
		ssw += (c.departure(m) - mean) * (c.departure(m) - mean)
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
