package eval

import (
	"slices"
	"time"
)

// measure finds the measures from the events of one recording, which were matched
// at the headline and written down as rows.
func (s *Scorer) measure(rows []Match) Measures {
	split := 0
	for split < len(rows) && rows[split].Source == FromReference {
		split++
	}
	reference, predicted := rows[:split], rows[split:]

	var m Measures
	var n counts
	s.all[FromReference], s.all[FromPrediction] = s.all[FromReference][:0], s.all[FromPrediction][:0]
	for i := range rows {
		r := &rows[i]
		s.all[r.Source] = append(s.all[r.Source], r.Anchor)
		if r.Source == FromReference && r.Outcome.paired() {
			m.Pairs++
		}
		switch {
		case r.Outcome == FalsePositive:
			n.fp++
			if anyWithin(s.times[FromReference][r.Class], r.Anchor, s.rules.Headline) {
				m.Doubled[r.Class]++
			}
		case r.Outcome == FalseNegative:
			n.fn++
			if anyWithin(s.times[FromPrediction][r.Class], r.Anchor, s.rules.Headline) {
				m.Merged[r.Class]++
			}
		case r.Outcome == TruePositive && r.Source == FromReference:
			n.tp++
		}
	}
	if s.rules.S1Only { // of the prediction, S2 is here alone
		s.all[FromPrediction] = append(s.all[FromPrediction], s.times[FromPrediction][S2]...)
		slices.Sort(s.all[FromPrediction])
	}
	m.PairsAnyClass = pairs(s.matcher.match(s.all[FromReference], s.all[FromPrediction], s.rules.Headline))
	m.Exchanged = s.swapped().higherF1(n)
	m.Cycles, m.CyclesRight = s.cycles(reference)
	m.Reference, m.Predicted = s.beat(reference), s.beat(predicted)
	return m
}

// higherF1 reports whether F1 of t is higher than that of u. The fractions are
// compared in integers.
func (t counts) higherF1(u counts) bool {
	return t.tp*(2*u.tp+u.fp+u.fn) > u.tp*(2*t.tp+t.fp+t.fn)
}

// swapped counts over the scored sounds after swapping the predicted labels.
func (s *Scorer) swapped() (n counts) {
	for _, class := range s.rules.scored() {
		predicted := s.events[FromPrediction][1-class]
		for i := range predicted {
			if predicted[i].stretch >= 0 {
				n.fp++ // unless it finds a partner below
			}
		}
		for i, p := range s.matcher.match(s.times[FromReference][class], s.times[FromPrediction][1-class], s.rules.Headline) {
			if p >= 0 && predicted[p].stretch >= 0 {
				n.fp--
			}
			switch cut := s.events[FromReference][class][i].cut; {
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
func (s *Scorer) cycles(reference []Match) (whole, right int) {
	var met [classes]int         // reference events so far
	last := [3]int32{-1, -1, -1} // rows of the partners of the latest three
	for i := range reference {
		class := reference[i].Class
		last[0], last[1], last[2] = last[1], last[2], -1
		if p := s.events[FromReference][class][met[class]].partner; p >= 0 {
			last[2] = s.events[FromPrediction][class][p].row
		}
		met[class]++
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
func (s *Scorer) beat(side []Match) Beat {
	s.cycleLengths, s.systoles = s.cycleLengths[:0], s.systoles[:0]
	if s.rules.S1Only {
		for i := 1; i < len(side); i++ {
			if a, b := &side[i-1], &side[i]; a.Stretch >= 0 && a.Stretch == b.Stretch {
				s.cycleLengths = append(s.cycleLengths, b.Anchor-a.Anchor)
			}
		}
		if len(s.cycleLengths) < minBeats {
			return Beat{}
		}
		return Beat{CycleLength: median(s.cycleLengths)}
	}
	for i := 2; i < len(side); i++ {
		if c := side[i-2 : i+1]; isCycle(c) {
			s.cycleLengths = append(s.cycleLengths, c[2].Anchor-c[0].Anchor)
			s.systoles = append(s.systoles, c[1].Anchor-c[0].Anchor)
		}
	}
	if len(s.cycleLengths) < minBeats {
		return Beat{}
	}
	return Beat{CycleLength: median(s.cycleLengths), Systole: median(s.systoles)}
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
