package eval

import (
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

	// PredictsPoints says that the method marks the middle of each sound and no
	// durations. Its points are PredictedPoints, and Predicted is empty.
	PredictsPoints  bool
	PredictedPoints []pcg.Point

	Length time.Duration // of the recording; zero if unknown, and then no event is cut by its end

	// Failed says that the method gave no output. What is predicted is then ignored and
	// every reference event is missed.
	Failed bool
	Reason string // why it failed
}

// centreOnly reports whether reference or prediction marks points, which have a
// centre and no other anchor.
func (c *Case) centreOnly() bool { return len(c.Reference.Points) > 0 || c.PredictsPoints }

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

// cut reports whether the reference event of outcome o is cut by an end of the
// recording.
func (o Outcome) cut() bool { return o == Cut || o == Absorbed }

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

	Length       time.Duration // of the recording; zero if unknown
	ReferenceEnd time.Duration // where the last state or point of the reference ends

	// ScoredTime is the length of scored time at the headline tolerance.
	ScoredTime time.Duration

	// Matches are as [Match] says, of the classes that are scored.
	Matches []Match

	// CentreOnly says that reference or prediction marks points.
	CentreOnly bool

	// Counts are ordered by class, anchor and tolerance, of the classes that are
	// scored. Points have counts at the centre only.
	Counts []Count

	Frames   Frames
	Measures Measures
}

// Measures is what the events of one recording say beyond their counts, at the
// headline anchor and tolerance.
type Measures struct {
	// Pairs is the number of events paired within their class, and
	// PairsAnyClass regardless of class. The difference is the exchange count.
	Pairs, PairsAnyClass int

	// Exchanged says that F1 over both sounds is higher after taking each
	// predicted S1 for S2 and the reverse.
	Exchanged bool

	// Doubled counts, by class, the false positives within the tolerance of a
	// paired reference event: two detections of one sound. Merged counts the
	// missed events within the tolerance of a paired prediction: one detection
	// of two sounds.
	Doubled, Merged [classes]int

	// Cycles is the number of whole reference cycles, from one S1 over S2 to
	// the next S1 within one stretch of scored time. CyclesRight is how many of
	// them have all three sounds paired with three consecutive predicted sounds.
	Cycles, CyclesRight int

	// Beat lengths are medians over the scored time, and zero where fewer than
	// minBeats cycles show them. CycleLength runs from S1 to the next S1,
	// Systole from S1 to the S2 that follows, both at the anchor. Systole is zero
	// where S1 alone is scored.
	Reference, Predicted Beat
}

// Beat is the length of the median cycle and of the median systole.
type Beat struct{ CycleLength, Systole time.Duration }

// Rate returns heart beats per minute, or null if unknown.
func (b Beat) Rate() Ratio { return ratio(float64(time.Minute), float64(b.CycleLength)) }

// minBeats is the number of whole cycles from which a recording has a heart
// rate and a systolic interval. The median of three withstands one wrong cycle.
const minBeats = 3
