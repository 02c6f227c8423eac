package pcg

import (
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"
)

// Recording is one entry of a data set: where its audio and its reference lie
// and what is known of it. It holds no samples.
type Recording struct {
	ID        string // unique within the data set
	DataSet   string // name of the data set
	Person    string // one name for all recordings of one person
	Site      string // where on the chest, in the words of the data set
	Take      int    // 1 for the first recording at a site
	Audio     string // path of the audio below the data root, slash-separated
	Reference string // path of the reference below the data root, or empty
	Labels    Labels // in the order of the layout
	// PersonUnknown says that Person is no name but the id of the recording.
	PersonUnknown bool
	Unusable      string // why no run can use it, as when another has its id; empty for all others
}

// Label is one thing the data set says of a recording or its person. An empty
// Value is a missing one.
type Label struct{ Name, Value string }

// Labels are labels in an order. A list of many recordings holds little else, so
// the names are shared and the values stand in one string.
type Labels struct {
	names  []string
	values string // each behind a zero byte
}

// MakeLabels returns labels with the given names, which are kept, and as many
// values, which are copied but for zero bytes, which no text has.
func MakeLabels(names, values []string) Labels {
	var b strings.Builder
	for _, v := range values {
		b.WriteByte(0)
		b.WriteString(strings.ReplaceAll(v, "\x00", ""))
	}
	return Labels{names, b.String()}
}

// All yields the labels in their order.
func (l Labels) All() iter.Seq[Label] {
	return func(yield func(Label) bool) {
		rest := l.values
		for _, name := range l.names {
			value := ""
			if rest != "" {
				value, rest = cutValue(rest[1:])
			}
			if !yield(Label{name, value}) {
				return
			}
		}
	}
}

// cutValue returns the text before the next zero byte, and what begins there.
func cutValue(s string) (value, rest string) {
	if i := strings.IndexByte(s, 0); i >= 0 {
		return s[:i], s[i:]
	}
	return s, ""
}

// String returns the labels as name=value, for messages.
func (l Labels) String() string {
	var pairs []string
	for label := range l.All() {
		pairs = append(pairs, label.Name+"="+label.Value)
	}
	return strings.Join(pairs, " ")
}

// Equal reports whether l and m have the same names and values.
func (l Labels) Equal(m Labels) bool { return slices.Equal(l.names, m.names) && l.values == m.values }

// Label returns the value of the named label, or the empty string.
func (r *Recording) Label(name string) string {
	for l := range r.Labels.All() {
		if l.Name == name {
			return l.Value
		}
	}
	return ""
}

// ReferenceKind says how a reference annotation is written down.
type ReferenceKind string

// The kinds of reference that open data sets use.
const (
	NoReference          ReferenceKind = ""
	IntervalReference    ReferenceKind = "intervals" // start, end and state
	PointReference       ReferenceKind = "points"    // one time a sound
	StateStartsReference ReferenceKind = "starts"    // start and state, each ending where the next begins
	ECGReference         ReferenceKind = "ecg"       // the R waves of an electrocardiogram, each a point of S1
)

// Reference is what annotators wrote down about one recording, after repair.
type Reference struct {
	Kind      ReferenceKind
	Intervals []Interval // sorted, disjoint, of positive length, no Unannotated; empty for points
	Points    []Point    // sorted by time; only for points

	// Unannotated is the time between points in which beats are not known, sorted
	// and disjoint.
	Unannotated []Interval

	Repairs []string // what was repaired on reading, by file and line
}

// End returns where the last state or point ends.
func (r *Reference) End() (end time.Duration) {
	if n := len(r.Intervals); n > 0 {
		end = r.Intervals[n-1].End
	}
	if n := len(r.Points); n > 0 {
		end = max(end, r.Points[n-1].At)
	}
	return end
}

// Empty reports whether the reference says nothing.
func (r *Reference) Empty() bool { return len(r.Intervals) == 0 && len(r.Points) == 0 }

// Segmentation is what a method says about one recording.
type Segmentation struct {
	// Intervals cover the recording from its first sample to its last without
	// gap or overlap, in the order of the cycle.
	Intervals []Interval

	// Points are the middles of the sounds in their order, from a method that marks
	// no durations. It has no Intervals.
	Points []Point

	// Confidence lies in [0, 1]; a higher value promises a better segmentation.
	// Its meaning beyond the order is the method's. NaN where a method gives none.
	Confidence float64

	// ExchangeProbability is the method's estimate of the probability that S1
	// and S2 are exchanged throughout. NaN where a method gives none.
	ExchangeProbability float64

	// CycleLength is the estimated time from one S1 to the next; zero if unknown.
	CycleLength time.Duration
}

// Check reports the first way in which s breaks the promise of a segmentation
// of a recording that lasts length.
func (s *Segmentation) Check(length time.Duration) error {
	err := s.checkIntervals(length)
	if len(s.Points) > 0 {
		err = s.checkPoints(length)
	}
	switch {
	case err != nil:
		return err
	case s.Confidence < 0 || s.Confidence > 1:
		return fmt.Errorf("confidence %v is not in [0, 1]", s.Confidence)
	case s.ExchangeProbability < 0 || s.ExchangeProbability > 1:
		return fmt.Errorf("probability of an exchange %v is not in [0, 1]", s.ExchangeProbability)
	case s.CycleLength < 0:
		return fmt.Errorf("cycle length %v is negative", s.CycleLength)
	}
	return nil
}

// checkIntervals makes sure that the intervals tile the recording.
func (s *Segmentation) checkIntervals(length time.Duration) error {
	if len(s.Intervals) == 0 {
		return errors.New("segmentation is empty")
	}
	if first := s.Intervals[0]; first.Start != 0 {
		return fmt.Errorf("segmentation begins at %v, not with the recording", first.Start)
	}
	for i, iv := range s.Intervals {
		if iv.State < S1 || iv.State > Diastole {
			return fmt.Errorf("interval %d: %v is not a state of the cycle", i, iv.State)
		}
		if iv.End <= iv.Start {
			return fmt.Errorf("interval %d: %v has no length", i, iv)
		}
		if i == 0 {
			continue
		}
		prev := s.Intervals[i-1]
		if iv.Start != prev.End {
			return fmt.Errorf("interval %d: starts at %v where the one before ends at %v", i, iv.Start, prev.End)
		}
		if iv.State != prev.State.Next() {
			return fmt.Errorf("interval %d: %v follows %v", i, iv.State, prev.State)
		}
	}
	if last := s.Intervals[len(s.Intervals)-1]; last.End != length {
		return fmt.Errorf("segmentation ends at %v, the recording at %v", last.End, length)
	}
	return nil
}

// checkPoints makes sure that the points are sounds within the recording, in order.
func (s *Segmentation) checkPoints(length time.Duration) error {
	if len(s.Intervals) > 0 {
		return errors.New("segmentation has both points and intervals")
	}
	for i, p := range s.Points {
		switch {
		case p.Sound != S1 && p.Sound != S2:
			return fmt.Errorf("point %d: %v is no sound", i, p.Sound)
		case p.At < 0 || p.At > length:
			return fmt.Errorf("point %d: at %v, outside the recording of %v", i, p.At, length)
		case i > 0 && p.At <= s.Points[i-1].At:
			return fmt.Errorf("point %d: at %v, not after the one before at %v", i, p.At, s.Points[i-1].At)
		}
	}
	return nil
}
