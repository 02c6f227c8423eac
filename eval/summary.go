package eval

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// Summary is what one quotes of a run. Ratios are fractions of 1 and null
// where undefined.
type Summary struct {
	Rules       RulesSummary `json:"rules"`
	Counts      Counts       `json:"counts"`
	Scores      []Score      `json:"scores"`
	Exchange    Exchange     `json:"exchange"`
	Cycles      Cycles       `json:"cycles"`
	Frames      FrameSummary `json:"frames"`
	Timing      []Spread     `json:"timing"`
	Rates       []Agreement  `json:"rates"`
	NotDivided  []string     `json:"labels_not_divided,omitempty"` // labels with too many values for strata
	Warnings    []string     `json:"warnings"`
	Resamples   int          `json:"resamples"`
	Seed        uint64       `json:"seed"`
	Confidence  float64      `json:"confidence"`
	MinPeople   int          `json:"minimum_people"`
	HeadlineRow Score        `json:"headline"` // both sounds, pooled, all recordings
}

// RulesSummary is [Rules] in numbers and in words.
type RulesSummary struct {
	Anchor       Anchor    `json:"anchor"`
	TolerancesMS []float64 `json:"tolerances_ms"`
	HeadlineMS   float64   `json:"headline_tolerance_ms"`
	GapMS        float64   `json:"gap_ms"`
	EdgeMS       float64   `json:"edge_ms"`
	Matching     string    `json:"matching"`
	ScoredTime   string    `json:"scored_time"`
	Edges        string    `json:"edges"`
	Failures     string    `json:"failures"`
	Intervals    string    `json:"intervals"`

	// RateBands are the borders between bands of heart rate, in beats per minute;
	// a band holds its lower border.
	RateBands []float64 `json:"heart_rate_bands_per_min"`
}

// Counts says what became of the recordings: In = Scored + Failed + Excluded.
type Counts struct {
	In       int           `json:"in"`
	Scored   int           `json:"scored"`
	Failed   int           `json:"failed"`   // without output; their events are missed
	Excluded int           `json:"excluded"` // without reference; not in any score
	People   int           `json:"people"`   // of those scored or failed
	Unnamed  int           `json:"unnamed"`  // recordings whose person is not stated, each taken for one person
	ByReason []ReasonCount `json:"by_reason"`
}

// ReasonCount counts recordings that failed or are excluded for one reason.
type ReasonCount struct {
	Reason string `json:"reason"`
	Count  int    `json:"count"`
}

// Score is one row of scores. Rows that are means over recordings or people
// carry the counts over all of them beside the mean ratios. Low and High bound
// F1: the BCa interval of a bootstrap over people or, where BCa is undefined,
// the percentile interval. They are given for pooled rows at the headline
// anchor at every tolerance and for all rows at the headline tolerance.
// Intervals of all three ratios stand at the headline tolerance, and in pooled
// rows also those of Wilson.
type Score struct {
	Class       Class           `json:"class"`
	Anchor      Anchor          `json:"anchor"`
	ToleranceMS float64         `json:"tolerance_ms"`
	Aggregate   Aggregate       `json:"aggregate"`
	Stratum     string          `json:"stratum"` // "" for all recordings, or "label=value"
	People      int             `json:"people"`
	Recordings  int             `json:"recordings"`
	TP          int             `json:"tp"`
	FP          int             `json:"fp"`
	FN          int             `json:"fn"`
	Precision   Ratio           `json:"precision"`
	Recall      Ratio           `json:"recall"`
	F1          Ratio           `json:"f1"`
	Low         Ratio           `json:"low"`
	High        Ratio           `json:"high"`
	Intervals   *RatioIntervals `json:"intervals,omitempty"`

	Wilson *WilsonIntervals `json:"wilson,omitempty"`
}

// RatioIntervals holds the bootstrap intervals of the three ratios of a row.
type RatioIntervals struct {
	Recall    Intervals `json:"recall"`
	Precision Intervals `json:"precision"`
	F1        Intervals `json:"f1"`
}

// WilsonIntervals are binomial intervals of pooled ratios, for comparison with
// papers that give them. They ignore that the beats of one person resemble each
// other, and so are too narrow. F1 is no proportion of trials and has none.
type WilsonIntervals struct {
	Recall          Bounds `json:"recall"`
	Precision       Bounds `json:"precision"`
	IgnoresClusters bool   `json:"ignores_clusters"`
}

// wilsonOf returns the binomial intervals of pooled counts.
func wilsonOf(t tally) *WilsonIntervals {
	w := WilsonIntervals{IgnoresClusters: true}
	w.Recall[0], w.Recall[1] = Wilson(t.tp, t.tp+t.fn, Confidence)
	w.Precision[0], w.Precision[1] = Wilson(t.tp, t.tp+t.fp, Confidence)
	return &w
}

// Exchange sums up S1 taken for S2 and sounds found twice or run together.
type Exchange struct {
	Pairs         int      `json:"pairs"`           // within the class
	PairsAnyClass int      `json:"pairs_any_class"` // regardless of class
	Exchanged     int      `json:"exchanged"`       // the difference
	Recordings    []string `json:"recordings"`      // that score better with swapped labels
	DoubledS1     int      `json:"doubled_s1"`
	DoubledS2     int      `json:"doubled_s2"`
	MergedS1      int      `json:"merged_s1"`
	MergedS2      int      `json:"merged_s2"`
}

func (e *Exchange) add(m *Measures) {
	e.Pairs += m.Pairs
	e.PairsAnyClass += m.PairsAnyClass
	e.Exchanged = e.PairsAnyClass - e.Pairs
	e.DoubledS1 += m.Doubled[S1]
	e.DoubledS2 += m.Doubled[S2]
	e.MergedS1 += m.Merged[S1]
	e.MergedS2 += m.Merged[S2]
}

// Cycles sums up whole reference cycles.
type Cycles struct {
	Whole int   `json:"whole"`
	Right int   `json:"right"` // S1, S2 and next S1 all paired, with nothing between
	Share Ratio `json:"share"`
}

func (c *Cycles) add(m *Measures) {
	c.Whole += m.Cycles
	c.Right += m.CyclesRight
	c.Share = ratio(float64(c.Right), float64(c.Whole))
}

// FrameSummary compares states over annotated time.
type FrameSummary struct {
	Accuracy  Ratio         `json:"accuracy"`
	States    []string      `json:"states"`
	Confusion [4][4]float64 `json:"confusion_s"` // seconds, by annotated (row) and predicted state
	Missed    [4]float64    `json:"missed_s"`    // seconds of each annotated state with nothing predicted
	Total     float64       `json:"total_s"`
}

// Summary sums up what was added. It may be called again after more was added.
func (a *Accumulator) Summary() *Summary {
	s := &Summary{
		Rules:      a.rules.summary(),
		Counts:     a.counts(),
		Exchange:   a.exchange,
		Cycles:     a.cycles,
		Frames:     a.frames.summary(),
		Timing:     a.timing.spreads(a.rules.Anchor),
		Rates:      a.rates(),
		Warnings:   []string{},
		Resamples:  a.options.Resamples,
		Seed:       a.options.Seed,
		Confidence: Confidence,
		MinPeople:  a.options.MinPeople,
	}
	s.Exchange.Recordings = append([]string{}, a.exchanged...)
	if a.cycles.Whole == 0 {
		s.Cycles.Share = null()
	}
	all := a.group(-1)
	s.Scores = append(a.headlineRows("", all), a.sweepRows(all)...)
	s.HeadlineRow = s.Scores[0]
	a.warn(s, all)
	a.addStrata(s)
	return s
}

// headlineRows returns the rows of a group at the headline, both sounds pooled
// first.
func (a *Accumulator) headlineRows(stratum string, g *group) []Score {
	estimate := make([]float64, groupFigures)
	groupRatios(estimate, g.total())
	bounds := a.options.bootstrap(&g.clusters, groupFigures, groupRatios)
	few := stratum != "" && g.people() < a.options.MinPeople
	var rows []Score
	for aggregate := range Aggregate(aggregates) {
		for _, class := range []Class{Both, S1, S2} {
			row := a.row(class, a.rules.Anchor, a.rules.Headline, g.totals[class])
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

// Best returns the ends of the BCa interval or, where that is undefined, of the
// percentile interval.
func (i *Intervals) Best() (low, high Ratio) {
	if i.BCa[0].Null() {
		return i.Percentile[0], i.Percentile[1]
	}
	return i.BCa[0], i.BCa[1]
}

// row returns a pooled row over all recordings.
func (a *Accumulator) row(class Class, anchor Anchor, tolerance time.Duration, t tally) Score {
	r := ratiosOf(t)
	return Score{
		Class: class, Anchor: anchor, ToleranceMS: milliseconds(tolerance),
		TP: t.tp, FP: t.fp, FN: t.fn,
		Recall: r[0], Precision: r[1], F1: r[2], Low: null(), High: null(),
	}
}

// sweepRows returns the pooled rows of all anchors and tolerances but the
// headline, which headlineRows gives.
func (a *Accumulator) sweepRows(all *group) []Score {
	tolerances := len(a.rules.Tolerances)
	bounds := a.sweepBounds()
	people, recordings := a.covered()
	var rows []Score
	for anchor := range Anchor(anchors) {
		for _, class := range []Class{Both, S1, S2} {
			for t, tolerance := range a.rules.Tolerances {
				headline := anchor == a.rules.Anchor
				if headline && tolerance == a.rules.Headline {
					continue
				}
				var sum tally
				for c := range Class(classes) {
					if class == Both || class == c {
						sum.plus(a.pooled[c][anchor][t])
					}
				}
				row := a.row(class, anchor, tolerance, sum)
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
func (a *Accumulator) covered() (people, recordings [anchors]int) {
	var seen [anchors]map[int32]bool
	for anchor := range Anchor(anchors) {
		seen[anchor] = make(map[int32]bool)
		for i := range a.recordings {
			r := &a.recordings[i]
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
func (a *Accumulator) sweepBounds() []Intervals {
	tolerances := len(a.rules.Tolerances)
	c := &clusters{columns: a.sweepColumns(), sums: make([]float64, len(a.people.sweep))}
	for i, n := range a.people.sweep {
		c.sums[i] = float64(n)
	}
	return a.options.bootstrap(c, (classes+1)*tolerances, func(f, totals []float64) {
		for t := range tolerances {
			var both tally
			for class := range Class(classes) {
				at := totals[a.sweepColumn(class, t):]
				n := tally{int(at[0]), int(at[1]), int(at[2])}
				both.plus(n)
				f[int(class)*tolerances+t] = float64(F1(n.tp, n.fp, n.fn))
			}
			f[int(Both)*tolerances+t] = float64(F1(both.tp, both.fp, both.fn))
		}
	})
}

// addStrata adds the rows of all strata.
func (a *Accumulator) addStrata(s *Summary) {
	numbers, tooMany, missing := a.strata.ordered(a.options.Strata)
	s.NotDivided = tooMany
	var few []string
	for _, n := range numbers {
		name, g := a.strata.values[n].String(), a.group(n)
		if g.recordings == 0 {
			continue
		}
		s.Scores = append(s.Scores, a.headlineRows(name, g)...)
		if g.people() < a.options.MinPeople {
			few = append(few, fmt.Sprintf("%s (%d)", name, g.people()))
		}
	}
	if len(few) > 0 {
		s.warn("strata of fewer than %d people, given as counts only: %s", a.options.MinPeople, strings.Join(few, ", "))
	}
	for _, name := range missing {
		s.warn("no recording has a label %q: no strata by it", name)
	}
}

// counts sums up what became of the recordings.
func (a *Accumulator) counts() Counts {
	c := Counts{In: len(a.recordings), People: len(a.people.names), ByReason: []ReasonCount{}}
	for i := range a.recordings {
		r := &a.recordings[i]
		switch r.status {
		case Scored:
			c.Scored++
		case Failed:
			c.Failed++
		case Excluded:
			c.Excluded++
			continue
		}
		if r.unnamed {
			c.Unnamed++
		}
	}
	for _, reason := range slices.Sorted(maps.Keys(a.reasons)) {
		c.ByReason = append(c.ByReason, ReasonCount{reason, a.reasons[reason]})
	}
	slices.SortStableFunc(c.ByReason, func(x, y ReasonCount) int { return cmp.Compare(y.Count, x.Count) })
	return c
}

// summary converts to seconds.
func (f *Frames) summary() FrameSummary {
	s := FrameSummary{Accuracy: f.Accuracy(), Total: f.Total().Seconds()}
	for i, state := range pcg.Cycle {
		s.States = append(s.States, state.String())
		s.Missed[i] = f.Missed[i].Seconds()
		for j := range pcg.Cycle {
			s.Confusion[i][j] = f.Confusion[i][j].Seconds()
		}
	}
	return s
}

// summary puts the rules into numbers and words.
func (r *Rules) summary() RulesSummary {
	s := RulesSummary{
		Anchor: r.Anchor, HeadlineMS: milliseconds(r.Headline), GapMS: milliseconds(r.Gap), EdgeMS: milliseconds(r.Edge),
		Matching:   "one-to-one within a class, |predicted − reference| ≤ tolerance: most pairs first, then least total distance",
		ScoredTime: fmt.Sprintf("annotated states, gaps of up to %g ms closed; for points from the first to the last, widened by the tolerance; a prediction outside may match and is never a false positive", milliseconds(r.Gap)),
		Edges:      "a reference sound cut by the start or end of the recording may absorb a match and is not missed",
		Failures:   "a recording without output misses all its reference events; one without reference is in no score",
		Intervals:  "bootstrap over people, BCa, widened for few people; percentile where BCa is undefined",
		RateBands:  RateBands[:],
	}
	for _, t := range r.Tolerances {
		s.TolerancesMS = append(s.TolerancesMS, milliseconds(t))
	}
	return s
}

// Rules returns the rules that s states.
func (s *RulesSummary) Rules() Rules {
	r := Rules{Anchor: s.Anchor, Headline: fromMilliseconds(s.HeadlineMS), Gap: fromMilliseconds(s.GapMS), Edge: fromMilliseconds(s.EdgeMS)}
	for _, t := range s.TolerancesMS {
		r.Tolerances = append(r.Tolerances, fromMilliseconds(t))
	}
	return r
}

func (s *Summary) warn(format string, values ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, values...))
}

// number returns n with the word for one or for many.
func number(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// warn says what a reader of the figures over all recordings should know.
func (a *Accumulator) warn(s *Summary, all *group) {
	c := &s.Counts
	if c.Scored+c.Failed == 0 {
		s.warn("no recording has a reference annotation: nothing is scored")
		return
	}
	if c.Failed > 0 {
		s.warn("%s without output: all reference events in them count as missed", number(c.Failed, "recording", "recordings"))
	}
	if c.Excluded > 0 {
		s.warn("%s without a usable reference: not in any score", number(c.Excluded, "recording", "recordings"))
	}
	if c.Unnamed > 0 {
		s.warn("the person of %s is not stated: each is taken for a person of its own, and intervals are too narrow if that is wrong",
			number(c.Unnamed, "recording", "recordings"))
	}
	if all.people() > 0 && all.recordings == all.people() {
		s.warn("each person has one recording: the means over people and over recordings are the same")
	}
	if all.people() < 2 {
		s.warn("no interval can be given from fewer than two people")
	} else if all.people() < PeopleForInterval {
		s.warn("%s: 95 %% intervals over fewer than %d are too narrow where a few people are hard; over ten they hold the truth in some 8 of 10 trials",
			number(all.people(), "person", "people"), PeopleForInterval)
	}
	if n := c.Scored + c.Failed - all.recordings; n > 0 {
		s.warn("%s with a reference of points, which has a centre only: not in the scores at the %v", number(n, "recording", "recordings"), a.rules.Anchor)
	}
	if n := a.narrow(); n > 0 {
		s.warn("the tolerance of %g ms is more than half the time from S1 to S2 in %s: an event can be nearer to a sound of the other class than to its own",
			milliseconds(a.rules.Headline), number(n, "recording", "recordings"))
	}
	if a.options.Resamples < MinResamples {
		s.warn("%d resamples are too few for a stable interval: take %d or more", a.options.Resamples, MinResamples)
	}
	if n := len(a.exchanged); n > 0 {
		s.warn("%s better with S1 and S2 swapped: method or reference has them exchanged", number(n, "recording scores", "recordings score"))
	}
}

// narrow counts the recordings whose median systole, from S1 to S2, is shorter
// than twice the headline tolerance.
func (a *Accumulator) narrow() int {
	n := 0
	for i := range a.recordings {
		if s := a.recordings[i].reference.Systole; s > 0 && s < 2*a.rules.Headline {
			n++
		}
	}
	return n
}
