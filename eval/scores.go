package eval

import "fmt"

// Aggregate is how the counts of many recordings become one ratio.
type Aggregate uint8

// The aggregates.
const (
	Pooled        Aggregate = iota // over events: counts are summed first ("gross")
	MeanRecording                  // mean of the ratios of recordings
	MeanPerson                     // mean of the ratios of people, each pooled over their recordings ("average")
)

const aggregates = 3

var aggregateNames = [...]string{"pooled", "recording", "person"}

// String returns the name of a as it stands in tables.
func (a Aggregate) String() string { return nameOf(aggregateNames[:], int(a), "Aggregate") }

// ParseAggregate is the inverse of Aggregate.String.
func ParseAggregate(name string) (Aggregate, error) {
	i, err := parseName(aggregateNames[:], name, "aggregate")
	return Aggregate(i), err
}

// MarshalText implements encoding.TextMarshaler.
func (a Aggregate) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (a *Aggregate) UnmarshalText(b []byte) (err error) {
	*a, err = ParseAggregate(string(b))
	return err
}

// Score is one line of the scores.
//
// Intervals are computed over all recordings at the headline tolerance for
// every anchor and at every tolerance for the headline anchor, and for every
// stratum of enough people. Strata are scored at the headline only.
type Score struct {
	Class       Class     `json:"class"`
	Anchor      Anchor    `json:"anchor"`
	ToleranceMS float64   `json:"tolerance_ms"`
	Aggregate   Aggregate `json:"aggregate"`
	Stratum     string    `json:"stratum"` // empty for all, else label=value

	// Counts are sums over all recordings of the stratum, for every aggregate.
	// A mean leaves out recordings or people whose ratio is null.
	TP int `json:"tp"`
	FP int `json:"fp"`
	FN int `json:"fn"`

	Precision Ratio `json:"precision"` // positive predictive value, PPV
	Recall    Ratio `json:"recall"`    // sensitivity, Se
	F1        Ratio `json:"f1"`

	// Low and High bound F1: the BCa interval over people, or the percentile
	// interval where BCa is undefined. Null where no interval was computed.
	Low  Ratio `json:"low"`
	High Ratio `json:"high"`

	Recordings int `json:"recordings"`
	People     int `json:"people"`

	Intervals *ScoreIntervals `json:"intervals,omitempty"`

	// Wilson intervals stand beside pooled ratios. They take events for
	// independent trials and are too narrow.
	Wilson *ScoreWilson `json:"wilson_ignoring_clusters,omitempty"`
}

// ScoreIntervals holds the bootstrap intervals of a score, over people.
type ScoreIntervals struct {
	Precision Intervals `json:"precision"`
	Recall    Intervals `json:"recall"`
	F1        Intervals `json:"f1"`
}

// ScoreWilson holds the Wilson intervals of a pooled score. F1 is no
// proportion of independent trials and has none.
type ScoreWilson struct {
	Precision Bounds `json:"precision"`
	Recall    Bounds `json:"recall"`
}

// The ratios of a score, in the order of the columns below.
const (
	precisionColumn = iota
	recallColumn
	f1Column
	ratios
)

// scoreFigures is the number of ratios of one set of recordings.
const scoreFigures = aggregates * (classes + 1) * ratios

// figure returns the place of a ratio among the figures.
func figure(g Aggregate, class Class, ratio int) int {
	return (int(g)*(classes+1)+int(class))*ratios + ratio
}

// tally is TP, FP and FN by class, Both being their sum.
type tally [classes + 1]struct{ tp, fp, fn int }

// add adds the counts of one class.
func (t *tally) add(class Class, tp, fp, fn int) {
	for _, c := range [2]Class{class, Both} {
		t[c].tp += tp
		t[c].fp += fp
		t[c].fn += fn
	}
}

// plus adds the counts of u.
func (t *tally) plus(u *tally) {
	for c := range u {
		t[c].tp += u[c].tp
		t[c].fp += u[c].fp
		t[c].fn += u[c].fn
	}
}

// parts returns numerator and denominator of a ratio of one class.
func (t *tally) parts(class Class, ratio int) (numerator, denominator int) {
	n := t[class]
	switch ratio {
	case precisionColumn:
		return n.tp, n.tp + n.fp
	case recallColumn:
		return n.tp, n.tp + n.fn
	}
	return 2 * n.tp, 2*n.tp + n.fp + n.fn
}

// scoreSums holds what the scores of a set of recordings are made of. Every
// ratio of every aggregate is a quotient of two sums over people: of counts,
// or of ratios and their number.
type scoreSums struct {
	clusters   clusters // numerator and denominator of each figure
	total      tally
	recordings int
}

// sums gathers a set of recordings at one anchor and tolerance.
func (a *Accumulator) sums(records []int32, anchor Anchor, tolerance int) *scoreSums {
	s := &scoreSums{clusters: clusters{columns: 2 * scoreFigures}}
	row := make(map[int32]int)
	var people []tally
	for _, i := range records {
		r := &a.records[i]
		var t tally
		for class := range Class(classes) {
			tp, fp, fn, _ := a.counts(r, class, anchor, tolerance)
			t.add(class, tp, fp, fn)
		}
		if anchor >= Anchor(r.anchors) {
			continue
		}
		p, ok := row[r.person]
		if !ok {
			p = len(people)
			row[r.person] = p
			people = append(people, tally{})
			s.clusters.sums = append(s.clusters.sums, make([]float64, s.clusters.columns)...)
		}
		s.recordings++
		s.total.plus(&t)
		people[p].plus(&t)
		t.addRatios(s.clusters.row(p), MeanRecording)
	}
	for p := range people {
		people[p].addCounts(s.clusters.row(p))
		people[p].addRatios(s.clusters.row(p), MeanPerson)
	}
	return s
}

// addCounts adds numerators and denominators to the columns of Pooled.
func (t *tally) addCounts(columns []float64) {
	for class := range Class(classes + 1) {
		for k := range ratios {
			numerator, denominator := t.parts(class, k)
			at := 2 * figure(Pooled, class, k)
			columns[at] += float64(numerator)
			columns[at+1] += float64(denominator)
		}
	}
}

// addRatios adds ratios and their number to the columns of a mean.
func (t *tally) addRatios(columns []float64, g Aggregate) {
	for class := range Class(classes + 1) {
		for k := range ratios {
			if numerator, denominator := t.parts(class, k); denominator > 0 {
				at := 2 * figure(g, class, k)
				columns[at] += float64(numerator) / float64(denominator)
				columns[at+1]++
			}
		}
	}
}

// scoresOf returns the nine scores of a set of recordings at one anchor and
// tolerance: three aggregates of three classes.
func (a *Accumulator) scoresOf(stratum string, records []int32, anchor Anchor, tolerance int, withIntervals bool) []Score {
	s := a.sums(records, anchor, tolerance)
	countsOnly := stratum != "" && s.clusters.people() < a.options.MinPeople
	values := make([]float64, scoreFigures)
	sumRatios(values, s.clusters.total())
	var intervals []Intervals
	if withIntervals && !countsOnly {
		intervals = a.options.bootstrap(&s.clusters, scoreFigures, sumRatios)
	}
	var scores []Score
	for g := range Aggregate(aggregates) {
		for class := range Class(classes + 1) {
			n := s.total[class]
			score := Score{
				Class: class, Anchor: anchor, ToleranceMS: milliseconds(a.rules.Tolerances[tolerance]), Aggregate: g, Stratum: stratum,
				TP: n.tp, FP: n.fp, FN: n.fn, Recordings: s.recordings, People: s.clusters.people(),
				Precision: null(), Recall: null(), F1: null(), Low: null(), High: null(),
			}
			if !countsOnly {
				at := figure(g, class, 0)
				score.Precision, score.Recall, score.F1 = Ratio(values[at+precisionColumn]), Ratio(values[at+recallColumn]), Ratio(values[at+f1Column])
				score.setIntervals(intervals, at, a.options.Confidence)
			}
			scores = append(scores, score)
		}
	}
	return scores
}

// setIntervals fills in the bootstrap intervals, where there are any, and the
// Wilson intervals of a pooled score.
func (s *Score) setIntervals(intervals []Intervals, at int, confidence float64) {
	if intervals != nil {
		s.Intervals = &ScoreIntervals{
			Precision: intervals[at+precisionColumn], Recall: intervals[at+recallColumn], F1: intervals[at+f1Column],
		}
		best := s.Intervals.F1.best()
		s.Low, s.High = best[0], best[1]
	}
	if s.Aggregate != Pooled {
		return
	}
	s.Wilson = new(ScoreWilson)
	s.Wilson.Precision[0], s.Wilson.Precision[1] = Wilson(s.TP, s.TP+s.FP, confidence)
	s.Wilson.Recall[0], s.Wilson.Recall[1] = Wilson(s.TP, s.TP+s.FN, confidence)
}

// best returns the BCa interval, or the percentile interval where that is
// undefined.
func (i Intervals) best() Bounds {
	if i.BCa[0].Null() {
		return i.Percentile
	}
	return i.BCa
}

// scores returns all lines: the sweep over all recordings, then the strata at
// the headline.
func (a *Accumulator) scores() (scores []Score, warnings []string) {
	all := make([]int32, len(a.records))
	for i := range all {
		all[i] = int32(i)
	}
	headline := a.rules.headline()
	for anchor := range Anchor(anchors) {
		for t := range a.rules.Tolerances {
			withIntervals := anchor == a.rules.Anchor || t == headline
			scores = append(scores, a.scoresOf("", all, anchor, t, withIntervals)...)
		}
	}
	numbers, tooMany := a.strata.ordered()
	for _, name := range tooMany {
		warnings = append(warnings, fmt.Sprintf("label %s has more than %d values and is not used for strata", name, MaxStratumValues))
	}
	members := a.members()
	for _, n := range numbers {
		name := a.strata.values[n].String()
		rows := a.scoresOf(name, members[n], a.rules.Anchor, headline, true)
		scores = append(scores, rows...)
		if people := rows[0].People; people < a.options.MinPeople {
			warnings = append(warnings, fmt.Sprintf("stratum %s has %d people, fewer than %d: counts only", name, people, a.options.MinPeople))
		}
	}
	return scores, warnings
}

// members lists the records of each stratum.
func (a *Accumulator) members() [][]int32 {
	members := make([][]int32, len(a.strata.values))
	for i := range a.records {
		for _, n := range a.records[i].strata {
			members[n] = append(members[n], int32(i))
		}
	}
	return members
}
