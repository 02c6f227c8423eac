package eval

import (
	"cmp"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// Case is one recording to score: what the annotators wrote and what a method
// says.
type Case struct {
	Recording string
	Person    string      // empty if the data set does not say
	Strata    []pcg.Label // the labels by which scores are also given
	Reference pcg.Reference
	Predicted []pcg.Interval
	Length    time.Duration // of the recording; zero if unknown, and then no event is cut by its end

	// Failed says that the method gave no output. Predicted is then ignored and
	// every reference event is missed.
	Failed bool
	Reason string // why it failed
}

// Status says how a recording enters the scores.
type Status uint8

// The ways in which a recording can enter the scores.
const (
	Scored   Status = iota
	Failed          // no output: all reference events missed
	Excluded        // no reference: counted apart
)

var statusNames = [...]string{"scored", "failed", "excluded"}

// String returns the name of s as it stands in tables.
func (s Status) String() string { return nameOf(statusNames[:], int(s), "Status") }

// NoReference is the reason for which [Scorer.Score] excludes a recording.
const NoReference = "no reference annotation"

// Source says who placed an event.
type Source uint8

// The sources of events.
const (
	FromReference Source = iota
	FromPrediction
)

var sourceNames = [...]string{"reference", "predicted"}

// String returns the name of s as it stands in tables.
func (s Source) String() string { return nameOf(sourceNames[:], int(s), "Source") }

// Outcome is what became of an event at the headline tolerance.
type Outcome uint8

// The outcomes. A pair has the same outcome on both sides.
const (
	TruePositive  Outcome = iota
	FalsePositive         // predicted within scored time, unpaired
	FalseNegative         // reference, unpaired
	Ignored               // predicted outside scored time, unpaired
	Absorbed              // paired, where the reference event is cut by an end of the recording
	Cut                   // reference event cut by an end of the recording, unpaired
)

var outcomeNames = [...]string{"TP", "FP", "FN", "ignored", "absorbed", "cut"}

// String returns the name of o as it stands in tables.
func (o Outcome) String() string { return nameOf(outcomeNames[:], int(o), "Outcome") }

// paired reports whether an event of outcome o has a partner.
func (o Outcome) paired() bool { return o == TruePositive || o == Absorbed }

// Match is one event and what became of it at the headline anchor and
// tolerance. The rows of a recording are its reference events in the order of
// their anchors, then its predicted events likewise.
type Match struct {
	Recording string
	Source    Source
	Class     Class
	Outcome   Outcome

	Start, End time.Duration // of the sound; equal for a point
	Anchor     time.Duration
	Partner    time.Duration // anchor of the partner; zero without one
	Delta      time.Duration // predicted minus reference anchor; zero without a partner

	// OnsetDelta and OffsetDelta are predicted minus reference time of the
	// boundary, in a reference row that is a TP. They hold only where both sides
	// mark a boundary between two states that follow each other, which a cut at
	// an end of the recording or of the annotation is not.
	OnsetDelta, OffsetDelta time.Duration
	HasOnset, HasOffset     bool

	// Stretch is the number of the stretch of scored time that holds the anchor,
	// or −1.
	Stretch int32
}

// Paired reports whether the event has a partner.
func (m *Match) Paired() bool { return m.Outcome.paired() }

// Count holds the counts of one recording, class, anchor and tolerance.
type Count struct {
	Recording string
	Class     Class
	Anchor    Anchor
	Tolerance time.Duration
	TP        int
	FP        int
	FN        int
	Ignored   int
}

// Result is the score of one recording.
type Result struct {
	Recording string
	Person    string
	Strata    []pcg.Label
	Kind      pcg.ReferenceKind
	Status    Status
	Reason    string

	// ScoredTime is the length of scored time at the headline tolerance.
	ScoredTime time.Duration

	// Matches are as [Match] says.
	Matches []Match

	// Counts are ordered by class, anchor and tolerance. A reference of points
	// has counts at the centre only.
	Counts []Count

	Frames   Frames
	Measures Measures
}

// event is one sound while it is scored.
type event struct {
	start, end, anchor time.Duration
	class              Class
	cut                bool  // reference only
	stretch            int32 // of the anchor
	onset, offset      bool  // whether start and end are boundaries between states
	partner            int32 // index within its class on the other side, or −1
}

// Scorer scores one recording after another by the same rules. It owns
// buffers: one per worker, not for concurrent use.
type Scorer struct {
	rules     Rules
	matcher   matcher
	stretches []span
	events    [2][classes][]event         // by source
	times     [2][classes][]time.Duration // anchors of events
	work      measureWork
}

// NewScorer returns a scorer, or an error if the rules cannot be followed.
func NewScorer(rules Rules) (*Scorer, error) {
	if err := rules.Validate(); err != nil {
		return nil, err
	}
	rules.Tolerances = slices.Clone(rules.Tolerances)
	return &Scorer{rules: rules}, nil
}

// Rules returns the rules by which s scores.
func (s *Scorer) Rules() Rules { return s.rules }

// Score scores one recording. Without a reference the result is excluded and
// holds no rows.
func (s *Scorer) Score(c *Case) Result {
	r := Result{
		Recording: c.Recording, Person: c.Person, Strata: c.Strata,
		Kind: c.Reference.Kind, Reason: c.Reason,
	}
	if c.Reference.Empty() {
		r.Status = Excluded
		if r.Reason == "" {
			r.Reason = NoReference
		}
		return r
	}
	predicted := c.Predicted
	if c.Failed {
		r.Status = Failed
		predicted = nil
	}
	s.gather(c, predicted)
	r.Counts = s.count(c)
	s.anchorAt(s.rules.Anchor, c)
	s.setStretches(c, s.rules.Headline)
	r.ScoredTime = total(s.stretches, c.Length)
	r.Matches = s.matches(c)
	r.Frames.compare(c.Reference.Intervals, predicted)
	r.Measures = s.measure(r.Matches)
	return r
}

// headlineAnchor is the rules' anchor, or the centre for points, which have no
// other.
func headlineAnchor(a Anchor, kind pcg.ReferenceKind) Anchor {
	if kind == pcg.PointReference {
		return Centre
	}
	return a
}

// gather fills the events of both sides and classes.
func (s *Scorer) gather(c *Case, predicted []pcg.Interval) {
	for source := range s.events {
		for class := range s.events[source] {
			s.events[source][class] = s.events[source][class][:0]
		}
	}
	for _, p := range c.Reference.Points {
		if p.Sound.IsSound() {
			s.add(FromReference, event{start: p.At, end: p.At, class: classOf(p.Sound)})
		}
	}
	s.gatherIntervals(FromReference, c.Reference.Intervals, c.Length)
	s.gatherIntervals(FromPrediction, predicted, c.Length)
}

// gatherIntervals adds the sounds among intervals.
func (s *Scorer) gatherIntervals(source Source, intervals []pcg.Interval, length time.Duration) {
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
	anchor = headlineAnchor(anchor, c.Reference.Kind)
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
	s.stretches = stretches(s.stretches[:0], c.Reference.Intervals, s.rules.Gap)
	if len(c.Reference.Points) > 0 {
		s.stretches = append(s.stretches[:0], around(c.Reference.Points, tolerance))
	}
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
	if c.Reference.Kind == pcg.PointReference {
		last = Centre + 1
	}
	counts := make([]Count, classes*int(last)*len(s.rules.Tolerances))
	for anchor := Centre; anchor < last; anchor++ {
		s.anchorAt(anchor, c)
		for t, tolerance := range s.rules.Tolerances {
			if t == 0 || len(c.Reference.Points) > 0 {
				s.setStretches(c, tolerance)
			}
			for class := S1; class < classes; class++ {
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
	reference := s.events[FromReference][class]
	for i := range reference {
		switch s.outcome(FromReference, &reference[i]) {
		case TruePositive:
			n.TP++
		case FalseNegative:
			n.FN++
		}
	}
	predicted := s.events[FromPrediction][class]
	for i := range predicted {
		switch s.outcome(FromPrediction, &predicted[i]) {
		case FalsePositive:
			n.FP++
		case Ignored:
			n.Ignored++
		}
	}
}

// matches pairs at the headline tolerance and writes down every event.
func (s *Scorer) matches(c *Case) []Match {
	n := 0
	for source := range s.events {
		for class := range s.events[source] {
			n += len(s.events[source][class])
		}
	}
	s.pair(S1, s.rules.Headline)
	s.pair(S2, s.rules.Headline)
	rows := make([]Match, 0, n)
	for source := FromReference; source <= FromPrediction; source++ {
		a, b := s.events[source][S1], s.events[source][S2]
		for len(a) > 0 || len(b) > 0 {
			next := &a
			if len(a) == 0 || (len(b) > 0 && b[0].anchor < a[0].anchor) {
				next = &b
			}
			rows = append(rows, s.row(c.Recording, source, &(*next)[0]))
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
