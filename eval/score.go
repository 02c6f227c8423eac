package eval

import (
	"cmp"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// event is one sound while it is scored.
type event struct {
	start, end, anchor time.Duration
	class              Class
	cut                bool  // reference only
	stretch            int32 // of the anchor
	onset, offset      bool  // whether start and end are boundaries between states
	partner            int32 // index within its class on the other side, or −1
	row                int32 // among the matches of the recording
}

// Scorer scores one recording after another by the same rules. It owns
// buffers: one per worker, not for concurrent use.
type Scorer struct {
	rules     Rules
	matcher   matcher
	stretches []span
	events    [2][classes][]event         // by source
	times     [2][classes][]time.Duration // anchors of events

	all                    [2][]time.Duration // anchors of both classes, by source
	cycleLengths, systoles []time.Duration    // of one side
}

// NewScorer returns a scorer, or an error if the rules cannot be followed.
func NewScorer(rules Rules) (*Scorer, error) {
	if err := rules.Validate(); err != nil {
		return nil, err
	}
	rules.Tolerances = slices.Clone(rules.Tolerances)
	return &Scorer{rules: rules}, nil
}

// Score scores one recording. Without a reference the result is excluded and
// holds no rows.
func (s *Scorer) Score(c *Case) Result {
	r := Result{
		Recording: c.Recording, Person: c.Person, Strata: c.Strata,
		Kind: c.Reference.Kind, Reason: c.Reason, CentreOnly: c.centreOnly(),
	}
	if c.Reference.Empty() {
		r.Status = Excluded
		if r.Reason == "" {
			r.Reason = NoReference
		}
		return r
	}
	r.Length, r.ReferenceEnd = c.Length, c.Reference.End()
	if c.Failed {
		r.Status = Failed
	}
	s.collect(c)
	r.Counts = s.count(c)
	s.anchorAt(s.rules.Anchor, c)
	s.setStretches(c, s.rules.Headline)
	r.ScoredTime = total(s.stretches, c.Length)
	r.Matches = s.matches(c)
	if !c.PredictsPoints {
		r.Frames.compare(c.Reference.Intervals, c.predicted())
	}
	r.Measures = s.measure(r.Matches)
	return r
}

// predicted returns the intervals that the method gave.
func (c *Case) predicted() []pcg.Interval {
	if c.Failed {
		return nil
	}
	return c.Predicted
}

// headlineAnchor is the rules' anchor, or the centre for points, which have no
// other.
func (c *Case) headlineAnchor(a Anchor) Anchor {
	if c.centreOnly() {
		return Centre
	}
	return a
}

// collect fills the events of both sides and classes.
func (s *Scorer) collect(c *Case) {
	for source := range s.events {
		for class := range s.events[source] {
			s.events[source][class] = s.events[source][class][:0]
		}
	}
	s.collectPoints(FromReference, c.Reference.Points)
	s.collectIntervals(FromReference, c.Reference.Intervals, c.Length)
	if !c.Failed {
		s.collectPoints(FromPrediction, c.PredictedPoints)
		s.collectIntervals(FromPrediction, c.Predicted, c.Length)
	}
}

// collectPoints adds the sounds among points.
func (s *Scorer) collectPoints(source Source, points []pcg.Point) {
	for _, p := range points {
		if p.Sound.IsSound() {
			s.add(source, event{start: p.At, end: p.At, class: classOf(p.Sound)})
		}
	}
}

// collectIntervals adds the sounds among intervals.
func (s *Scorer) collectIntervals(source Source, intervals []pcg.Interval, length time.Duration) {
	for i, iv := range intervals {
		if !iv.State.IsSound() {
			continue
		}
		e := event{start: iv.Start, end: iv.End, class: classOf(iv.State)}
		e.onset = i > 0 && s.follows(intervals[i-1], iv)
		e.offset = i+1 < len(intervals) && s.follows(iv, intervals[i+1])
		e.cut = source == FromReference && s.isCut(iv, length)
		s.add(source, e)
	}
}

// follows reports whether the states of a and b are neighbours in the cycle
// with nothing but a closed gap between them.
func (s *Scorer) follows(a, b pcg.Interval) bool {
	return b.State == a.State.Next() && b.Start-a.End <= s.rules.Gap
}

// isCut reports whether iv reaches the start or the end of the recording.
func (s *Scorer) isCut(iv pcg.Interval, length time.Duration) bool {
	return iv.Start <= s.rules.Edge || (length > 0 && iv.End >= length-s.rules.Edge)
}

func (s *Scorer) add(source Source, e event) {
	s.events[source][e.class] = append(s.events[source][e.class], e)
}

// anchorAt places all events at their anchor, in order.
func (s *Scorer) anchorAt(anchor Anchor, c *Case) {
	anchor = c.headlineAnchor(anchor)
	for source := range s.events {
		for class, events := range s.events[source] {
			for i := range events {
				events[i].anchor = anchor.of(events[i].start, events[i].end)
			}
			if !slices.IsSortedFunc(events, byAnchor) {
				slices.SortStableFunc(events, byAnchor)
			}
			times := s.times[source][class][:0]
			for _, e := range events {
				times = append(times, e.anchor)
			}
			s.times[source][class] = times
		}
	}
}

func byAnchor(a, b event) int { return cmp.Compare(a.anchor, b.anchor) }

// setStretches finds the scored time, which for points depends on the
// tolerance, and marks the stretch of each event.
func (s *Scorer) setStretches(c *Case, tolerance time.Duration) {
	s.stretches = scoredTime(s.stretches[:0], &c.Reference, s.rules.Gap, tolerance)
	for source := range s.events {
		for _, events := range s.events[source] {
			for i := range events {
				events[i].stretch = stretchOf(s.stretches, events[i].anchor)
			}
		}
	}
}

// pair matches one class at one tolerance and tells both sides.
func (s *Scorer) pair(class Class, tolerance time.Duration) {
	reference, predicted := s.events[FromReference][class], s.events[FromPrediction][class]
	for i := range predicted {
		predicted[i].partner = -1
	}
	partner := s.matcher.match(s.times[FromReference][class], s.times[FromPrediction][class], tolerance)
	for i, p := range partner {
		reference[i].partner = p
		if p >= 0 {
			predicted[p].partner = int32(i)
		}
	}
}

// outcome returns what became of an event after pairing.
func (s *Scorer) outcome(source Source, e *event) Outcome {
	cut := e.cut
	if source == FromPrediction && e.partner >= 0 {
		cut = s.events[FromReference][e.class][e.partner].cut
	}
	switch {
	case e.partner >= 0 && cut:
		return Absorbed
	case e.partner >= 0:
		return TruePositive
	case source == FromReference && cut:
		return Cut
	case source == FromReference:
		return FalseNegative
	case e.stretch < 0:
		return Ignored
	}
	return FalsePositive
}

// count scores every class, anchor and tolerance.
func (s *Scorer) count(c *Case) []Count {
	last := Anchor(anchors)
	if c.centreOnly() {
		last = Centre + 1
	}
	scored := s.rules.scored()
	counts := make([]Count, len(scored)*int(last)*len(s.rules.Tolerances))
	for anchor := Centre; anchor < last; anchor++ {
		s.anchorAt(anchor, c)
		for t, tolerance := range s.rules.Tolerances {
			if t == 0 || len(c.Reference.Points) > 0 {
				s.setStretches(c, tolerance)
			}
			for _, class := range scored {
				s.pair(class, tolerance)
				n := Count{Recording: c.Recording, Class: class, Anchor: anchor, Tolerance: tolerance}
				s.countOutcomes(class, &n)
				counts[(int(class)*int(last)+int(anchor))*len(s.rules.Tolerances)+t] = n
			}
		}
	}
	return counts
}

// countOutcomes counts the outcomes of one class.
func (s *Scorer) countOutcomes(class Class, n *Count) {
	for source := range s.events {
		events := s.events[source][class]
		for i := range events {
			switch s.outcome(Source(source), &events[i]) {
			case TruePositive: // on both sides
				if Source(source) == FromReference {
					n.TP++
				}
			case FalseNegative:
				n.FN++
			case FalsePositive:
				n.FP++
			case Ignored:
				n.Ignored++
			}
		}
	}
}

// matches pairs at the headline tolerance and writes down every event.
func (s *Scorer) matches(c *Case) []Match {
	n := 0
	for _, class := range s.rules.scored() {
		s.pair(class, s.rules.Headline)
		n += len(s.events[FromReference][class]) + len(s.events[FromPrediction][class])
	}
	rows := make([]Match, 0, n)
	for source := FromReference; source <= FromPrediction; source++ {
		a, b := s.events[source][S1], s.events[source][S2]
		if s.rules.S1Only {
			b = nil
		}
		for len(a) > 0 || len(b) > 0 {
			next := &a
			if len(a) == 0 || (len(b) > 0 && b[0].anchor < a[0].anchor) {
				next = &b
			}
			e := &(*next)[0]
			e.row = int32(len(rows))
			rows = append(rows, s.row(c.Recording, source, e))
			*next = (*next)[1:]
		}
	}
	return rows
}

// row writes down one event.
func (s *Scorer) row(recording string, source Source, e *event) Match {
	m := Match{
		Recording: recording, Source: source, Class: e.class, Outcome: s.outcome(source, e),
		Start: e.start, End: e.end, Anchor: e.anchor, Stretch: e.stretch,
	}
	if e.partner < 0 {
		return m
	}
	partner := s.events[1-source][e.class][e.partner]
	m.Partner = partner.anchor
	m.Delta = partner.anchor - e.anchor
	if source == FromPrediction {
		m.Delta = -m.Delta
		return m
	}
	if m.Outcome == TruePositive {
		if m.HasOnset = e.onset && partner.onset; m.HasOnset {
			m.OnsetDelta = partner.start - e.start
		}
		if m.HasOffset = e.offset && partner.offset; m.HasOffset {
			m.OffsetDelta = partner.end - e.end
		}
	}
	return m
}
