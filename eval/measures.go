package eval

import (
	"slices"
	"time"
)

// measureWork holds the buffers of measure.
type measureWork struct {
	times     [2][classes][]time.Duration // anchors by source and class
	rows      [2][classes][]int32         // rows of those events within their side
	all       [2][]time.Duration          // anchors by source
	paired    [classes][]int32            // rows of the paired predictions
	intervals [2][]time.Duration
	matcher   matcher
}

// measure finds the measures from the rows of one recording, which were matched
// within the tolerance.
func (w *measureWork) measure(rows []Match, tolerance time.Duration) Measures {
	split := 0
	for split < len(rows) && rows[split].Source == FromReference {
		split++
	}
	reference, predicted := rows[:split], rows[split:]
	w.collect(reference, predicted)

	var m Measures
	var n counts
	for i := range rows {
		r := &rows[i]
		if r.Source == FromReference && r.Outcome.paired() {
			m.Pairs++
		}
		switch {
		case r.Outcome == FalsePositive:
			n.fp++
			if anyWithin(w.times[FromReference][r.Class], r.Anchor, tolerance) {
				m.Doubled[r.Class]++
			}
		case r.Outcome == FalseNegative:
			n.fn++
			if anyWithin(w.times[FromPrediction][r.Class], r.Anchor, tolerance) {
				m.Merged[r.Class]++
			}
		case r.Outcome == TruePositive && r.Source == FromReference:
			n.tp++
		}
	}
	m.PairsAnyClass = pairs(w.matcher.match(w.all[FromReference], w.all[FromPrediction], tolerance))
	m.Exchanged = w.swapped(reference, predicted, tolerance).higherF1(n)
	m.Cycles, m.CyclesRight = w.cycles(reference, predicted)
	m.Reference, m.Predicted = w.beat(reference), w.beat(predicted)
	return m
}

// collect sorts the events of each side by class.
func (w *measureWork) collect(sides ...[]Match) {
	for source, side := range sides {
		w.all[source] = w.all[source][:0]
		for class := range w.times[source] {
			w.times[source][class] = w.times[source][class][:0]
			w.rows[source][class] = w.rows[source][class][:0]
		}
		for i := range side {
			class := side[i].Class
			w.all[source] = append(w.all[source], side[i].Anchor)
			w.times[source][class] = append(w.times[source][class], side[i].Anchor)
			w.rows[source][class] = append(w.rows[source][class], int32(i))
		}
	}
}

// higherF1 reports whether F1 of t is higher than that of u. The fractions are
// compared in integers.
func (t counts) higherF1(u counts) bool {
	return t.tp*(2*u.tp+u.fp+u.fn) > u.tp*(2*t.tp+t.fp+t.fn)
}

// swapped counts over both sounds after swapping the predicted labels.
func (w *measureWork) swapped(reference, predicted []Match, tolerance time.Duration) (n counts) {
	for class := range Class(classes) {
		other := 1 - class
		for _, row := range w.rows[FromPrediction][other] {
			if predicted[row].Stretch >= 0 {
				n.fp++ // unless it finds a partner below
			}
		}
		for i, p := range w.matcher.match(w.times[FromReference][class], w.times[FromPrediction][other], tolerance) {
			if p >= 0 && predicted[w.rows[FromPrediction][other][p]].Stretch >= 0 {
				n.fp--
			}
			switch cut := reference[w.rows[FromReference][class][i]].Outcome.cut(); {
			case p < 0 && !cut:
				n.fn++
			case p >= 0 && !cut:
				n.tp++
			}
		}
	}
	return n
}

// anyWithin reports whether one of the sorted times is no further than the
// tolerance from t. An event left without a partner in a pairing with the most
// pairs has only paired events within its reach.
func anyWithin(times []time.Duration, t, tolerance time.Duration) bool {
	i, _ := slices.BinarySearch(times, t-tolerance)
	return i < len(times) && times[i]-t <= tolerance
}

// cycles counts whole reference cycles and those that are right.
func (w *measureWork) cycles(reference, predicted []Match) (whole, right int) {
	for class := range w.paired {
		w.paired[class] = w.paired[class][:0]
		for _, row := range w.rows[FromPrediction][class] {
			if predicted[row].Outcome.paired() {
				w.paired[class] = append(w.paired[class], row)
			}
		}
	}
	// Pairs keep the order within a class, so the k-th paired reference event
	// has the k-th paired prediction.
	var k [classes]int
	last := [3]int32{-1, -1, -1} // predicted rows of the latest three reference events
	for i := range reference {
		last[0], last[1], last[2] = last[1], last[2], -1
		if class := reference[i].Class; reference[i].Outcome.paired() {
			last[2] = w.paired[class][k[class]]
			k[class]++
		}
		if i < 2 || !isCycle(reference[i-2:i+1]) || anyCut(reference[i-2:i+1]) {
			continue
		}
		whole++
		if last[0] >= 0 && last[1] == last[0]+1 && last[2] == last[1]+1 {
			right++
		}
	}
	return whole, right
}

// isCycle reports whether three successive events are S1, S2 and S1 within one
// stretch of scored time.
func isCycle(m []Match) bool {
	return m[0].Class == S1 && m[1].Class == S2 && m[2].Class == S1 &&
		m[0].Stretch >= 0 && m[0].Stretch == m[1].Stretch && m[1].Stretch == m[2].Stretch
}

// anyCut reports whether one of the reference events is cut by an end of the
// recording, and so has no known centre.
func anyCut(m []Match) bool {
	return slices.ContainsFunc(m, func(m Match) bool { return m.Outcome.cut() })
}

// beat finds the median cycle and systole of one side.
func (w *measureWork) beat(side []Match) Beat {
	w.intervals[0], w.intervals[1] = w.intervals[0][:0], w.intervals[1][:0]
	for i := 2; i < len(side); i++ {
		if c := side[i-2 : i+1]; isCycle(c) {
			w.intervals[0] = append(w.intervals[0], c[2].Anchor-c[0].Anchor)
			w.intervals[1] = append(w.intervals[1], c[1].Anchor-c[0].Anchor)
		}
	}
	if len(w.intervals[0]) < minBeats {
		return Beat{}
	}
	return Beat{CycleLength: median(w.intervals[0]), Systole: median(w.intervals[1])}
}

// median sorts times and returns the middle one, or the mean of the middle two
// rounded down.
func median(times []time.Duration) time.Duration {
	slices.Sort(times)
	n := len(times)
	if n%2 == 1 {
		return times[n/2]
	}
	return times[n/2-1] + (times[n/2]-times[n/2-1])/2
}
