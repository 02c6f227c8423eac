package eval

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Scores lists the rows of scores: over all recordings at the headline, then at
// the other anchors and tolerances, then those of strata.
type Scores []Score

// scores accumulates the counts at all anchors and tolerances.
type scores struct {
	anchor     Anchor // of the headline
	tolerances int
	pooled     [anchors][]classCounts // by tolerance
	sweep      clusters               // counts of each person at the anchor of the headline, by tolerance
}

func (*Scores) accumulator(rules *Rules) accumulator {
	a := &scores{anchor: rules.Anchor, tolerances: len(rules.Tolerances)}
	a.sweep.columns = a.tolerances * countColumns
	for anchor := range a.pooled {
		a.pooled[anchor] = make([]classCounts, a.tolerances)
	}
	return a
}

func (a *scores) add(rec *recording, r *Result) {
	a.sweep.grow(int(rec.person) + 1)
	sweep := a.sweep.row(int(rec.person))
	for i := range r.Counts {
		n, t := &r.Counts[i], i%a.tolerances
		found := counts{n.TP, n.FP, n.FN}
		a.pooled[n.Anchor][t][n.Class].plus(found)
		if n.Anchor == a.anchor {
			found.addTo(sweep[t*countColumns:], n.Class)
		}
	}
}

func (a *scores) estimate(c *cohort, into statistic, warn func(string, ...any)) {
	rows := append(c.headlineRows("", c.group(-1)), a.sweepRows(c)...)
	numbers, _ := c.strata.ordered(c.options.Strata)
	var few, met []string
	for _, n := range numbers {
		name, g := c.strata.values[n].Name+"="+c.strata.values[n].Value, c.group(n)
		met = append(met, c.strata.values[n].Name)
		if g.recordings == 0 {
			continue
		}
		rows = append(rows, c.headlineRows(name, g)...)
		if g.people() < c.options.MinPeople {
			few = append(few, fmt.Sprintf("%s (%d)", name, g.people()))
		}
	}
	*into.(*Scores) = rows
	if len(few) > 0 {
		warn("strata of fewer than %d people, given as counts only: %s", c.options.MinPeople, strings.Join(few, ", "))
	}
	for _, name := range c.options.Strata {
		if !slices.Contains(met, name) {
			warn("no recording has a property %q: no strata by it", name)
		}
	}
}

// Headline returns the rows of the headline of a stratum, or of all recordings for "".
func (s Scores) Headline(r *RulesSummary, stratum string) Scores {
	return s.where(func(row *Score) bool {
		return row.Stratum == stratum && row.Anchor == r.Anchor && row.ToleranceMS == r.HeadlineMS
	})
}

// Strata returns the rows of the class of the headline, pooled, of all strata.
func (s Scores) Strata() Scores {
	return s.where(func(row *Score) bool { return row.Stratum != "" && row.Aggregate == Pooled && row.Class == s[0].Class })
}

func (s Scores) where(keep func(*Score) bool) Scores {
	var rows Scores
	for i := range s {
		if keep(&s[i]) {
			rows = append(rows, s[i])
		}
	}
	return rows
}

// Sweep returns the pooled rows of a class and anchor over all recordings, by
// tolerance.
func (s Scores) Sweep(class Class, anchor Anchor) Scores {
	rows := s.where(func(row *Score) bool {
		return row.Class == class && row.Anchor == anchor && row.Aggregate == Pooled && row.Stratum == ""
	})
	slices.SortFunc(rows, func(a, b Score) int { return cmp.Compare(a.ToleranceMS, b.ToleranceMS) })
	return rows
}

// sweepRows returns the pooled rows of all anchors and tolerances but the
// headline, which headlineRows gives. An anchor that no recording has is left out.
func (a *scores) sweepRows(c *cohort) []Score {
	tolerances := len(c.rules.Tolerances)
	bounds := a.sweepBounds(c)
	people, recordings := c.covered()
	var rows []Score
	for anchor := range Anchor(anchors) {
		if recordings[anchor] == 0 && anchor != c.rules.Anchor { // all have points
			continue
		}
		for _, class := range c.rules.reported() {
			for t, tolerance := range c.rules.Tolerances {
				headline := anchor == c.rules.Anchor
				if headline && tolerance == c.rules.Headline {
					continue
				}
				row := poolRow(class, anchor, tolerance, a.pooled[anchor][t].of(class))
				row.People, row.Recordings = people[anchor], recordings[anchor]
				if headline {
					row.Low, row.High = bounds[int(class)*tolerances+t].Best()
				}
				rows = append(rows, row)
			}
		}
	}
	return rows
}

// covered counts the people and recordings with counts at each anchor: points
// have a centre only.
func (c *cohort) covered() (people, recordings [anchors]int) {
	var seen [anchors]map[int32]bool
	for anchor := range Anchor(anchors) {
		seen[anchor] = make(map[int32]bool)
		for i := range c.recordings {
			r := &c.recordings[i]
			if r.status == Excluded || (r.centre && anchor != Centre) {
				continue
			}
			seen[anchor][r.person] = true
			recordings[anchor]++
		}
		people[anchor] = len(seen[anchor])
	}
	return people, recordings
}

// sweepBounds returns the intervals of F1 at the headline anchor by class and
// tolerance.
func (a *scores) sweepBounds(c *cohort) []Intervals {
	return c.options.bootstrap(&a.sweep, (classes+1)*a.tolerances, func(f, totals []float64) {
		for t := range a.tolerances {
			n := countsIn(totals[t*countColumns:])
			for class := range Class(classes + 1) {
				f[int(class)*a.tolerances+t] = float64(n.of(class).f1())
			}
		}
	})
}
