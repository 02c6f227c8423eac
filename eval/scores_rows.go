package eval

import "time"

// headlineRows returns the rows of a group at the headline, both sounds pooled
// first.
func (c *cohort) headlineRows(stratum string, g *group) []Score {
	estimate := make([]float64, groupFigures)
	groupRatios(estimate, g.total())
	bounds := c.options.bootstrap(&g.clusters, groupFigures, groupRatios)
	few := stratum != "" && g.people() < c.options.MinPeople
	var rows []Score
	for aggregate := range Aggregate(aggregates) {
		for _, class := range []Class{Both, S1, S2} {
			row := poolRow(class, c.rules.Anchor, c.rules.Headline, g.totals[class])
			row.Aggregate, row.Stratum = aggregate, stratum
			row.People, row.Recordings = g.people(), g.recordings
			at := figureOf(aggregate, class, 0)
			row.Recall, row.Precision, row.F1 = Ratio(estimate[at]), Ratio(estimate[at+1]), Ratio(estimate[at+2])
			row.Intervals = &RatioIntervals{bounds[at], bounds[at+1], bounds[at+2]}
			row.Low, row.High = bounds[at+2].Best()
			if aggregate == Pooled {
				row.Wilson = wilsonOf(g.totals[class])
			}
			if few {
				row.Recall, row.Precision, row.F1 = null(), null(), null()
				row.Low, row.High, row.Intervals, row.Wilson = null(), null(), nil, nil
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// poolRow returns a pooled row.
func poolRow(class Class, anchor Anchor, tolerance time.Duration, t counts) Score {
	r := ratiosOf(t)
	return Score{
		Class: class, Anchor: anchor, ToleranceMS: milliseconds(tolerance),
		TP: t.tp, FP: t.fp, FN: t.fn,
		Recall: r[0], Precision: r[1], F1: r[2], Low: null(), High: null(),
	}
}

// sweepRows returns the pooled rows of all anchors and tolerances but the
// headline, which headlineRows gives.
func (a *scores) sweepRows(c *cohort) []Score {
	tolerances := len(c.rules.Tolerances)
	bounds := a.sweepBounds(c)
	people, recordings := c.covered()
	var rows []Score
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} {
			for t, tolerance := range c.rules.Tolerances {
				headline := anchor == c.rules.Anchor
				if headline && tolerance == c.rules.Headline {
					continue
				}
				var sum counts
				for k := range Class(classes) {
					if class == Both || class == k {
						sum.plus(a.pooled[k][anchor][t])
					}
				}
				row := poolRow(class, anchor, tolerance, sum)
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
			if r.status == Excluded || (r.hasPoints && anchor != Centre) {
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
	k := &clusters{columns: a.columns(), sums: make([]float64, len(a.sweep))}
	for i, n := range a.sweep {
		k.sums[i] = float64(n)
	}
	return c.options.bootstrap(k, (classes+1)*a.tolerances, func(f, totals []float64) {
		for t := range a.tolerances {
			var both counts
			for class := range Class(classes) {
				at := totals[a.column(class, t):]
				n := counts{int(at[0]), int(at[1]), int(at[2])}
				both.plus(n)
				f[int(class)*a.tolerances+t] = float64(F1(n.tp, n.fp, n.fn))
			}
			f[int(Both)*a.tolerances+t] = float64(F1(both.tp, both.fp, both.fn))
		}
	})
}
