package eval

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// Class is what a score is about: one of the two sounds, or both together.
type Class uint8

// The classes. Events are S1 or S2; only sums of counts are Both.
const (
	S1 Class = iota
	S2
	Both
)

// classes is the number of classes an event can have.
const classes = 2

var classNames = [...]string{"S1", "S2", "both"}

// String returns the name of c as it stands in tables.
func (c Class) String() string { return nameOf(classNames[:], int(c), "Class") }

// MarshalText implements encoding.TextMarshaler.
func (c Class) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (c *Class) UnmarshalText(b []byte) error {
	i, err := parseName(classNames[:], string(b), "class")
	*c = Class(i)
	return err
}

// classOf returns the class of one of the two sounds.
func classOf(s pcg.State) Class {
	if s == pcg.S2 {
		return S2
	}
	return S1
}

// Anchor is the place within a sound at which it stands in time.
type Anchor uint8

// The anchors. Points have a centre only.
const (
	Centre Anchor = iota
	Onset
	Offset
)

// anchors is the number of anchors.
const anchors = 3

var anchorNames = [...]string{"centre", "onset", "offset"}

// String returns the name of a as it stands in tables.
func (a Anchor) String() string { return nameOf(anchorNames[:], int(a), "Anchor") }

// ParseAnchor is the inverse of Anchor.String.
func ParseAnchor(name string) (Anchor, error) {
	i, err := parseName(anchorNames[:], name, "anchor")
	return Anchor(i), err
}

// MarshalText implements encoding.TextMarshaler.
func (a Anchor) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (a *Anchor) UnmarshalText(b []byte) (err error) {
	*a, err = ParseAnchor(string(b))
	return err
}

// of returns the anchor of the interval [start, end).
func (a Anchor) of(start, end time.Duration) time.Duration {
	switch a {
	case Onset:
		return start
	case Offset:
		return end
	}
	return pcg.Interval{Start: start, End: end}.Centre()
}

// Aggregate is a way to average scores.
type Aggregate uint8

// The aggregates.
const (
	Pooled       Aggregate = iota // over events: gross, micro
	PerRecording                  // mean of the ratios of recordings
	PerPerson                     // mean of the ratios of people: average, macro
)

const aggregates = 3

var aggregateNames = [...]string{"pooled", "recording", "person"}

// String returns the name of a as it stands in tables.
func (a Aggregate) String() string { return nameOf(aggregateNames[:], int(a), "Aggregate") }

// Label says what a is the mean over.
func (a Aggregate) Label() string {
	return [aggregates]string{"pooled", "mean, recordings", "mean, people"}[a]
}

// MarshalText implements encoding.TextMarshaler.
func (a Aggregate) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (a *Aggregate) UnmarshalText(b []byte) error {
	i, err := parseName(aggregateNames[:], string(b), "aggregate")
	*a = Aggregate(i)
	return err
}

// nameOf returns names[i], or a Go-like notation for a value out of range.
func nameOf(names []string, i int, typ string) string {
	if i < len(names) {
		return names[i]
	}
	return fmt.Sprintf("%s(%d)", typ, i)
}

// parseName returns the index of name in names.
func parseName(names []string, name, what string) (int, error) {
	if i := slices.Index(names, name); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("unknown %s %q: want one of %s", what, name, strings.Join(names, ", "))
}
