package eval

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// Class is what a score speaks of: one of the two sounds, or both together.
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

// ParseClass is the inverse of Class.String.
func ParseClass(name string) (Class, error) {
	i, err := parseName(classNames[:], name, "class")
	return Class(i), err
}

// MarshalText implements encoding.TextMarshaler.
func (c Class) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (c *Class) UnmarshalText(b []byte) (err error) {
	*c, err = ParseClass(string(b))
	return err
}

// State returns the sound that c names; Both has none.
func (c Class) State() pcg.State {
	switch c {
	case S1:
		return pcg.S1
	case S2:
		return pcg.S2
	}
	return pcg.Unannotated
}

// classOf is the inverse of State for the two sounds.
func classOf(s pcg.State) Class {
	if s == pcg.S2 {
		return S2
	}
	return S1
}

// Anchor is the place within a sound at which it stands in time.
type Anchor uint8

// The anchors. A reference of points has a centre only.
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

// Rules are the choices on which a score depends. Two scores can be compared
// only where they are equal.
type Rules struct {
	// Anchor of the headline figure, of the matches, and of cycles and rates.
	Anchor Anchor

	// Tolerances are half-widths, inclusive, ascending, none negative.
	Tolerances []time.Duration

	// Headline is the one of Tolerances at which matches are written down and
	// strata are scored.
	Headline time.Duration

	// Gap is the longest gap between two annotated rows that is closed in
	// scored time.
	Gap time.Duration

	// Edge is how close to the start or the end of the recording a reference
	// event must reach to count as cut by it. It covers the rounding of
	// annotation files, not the width of a sound.
	Edge time.Duration
}

// DefaultRules returns the rules of the headline figure: 60 ms at the centre
// (the window of Schmidt et al. 2010, doi:10.1088/0967-3334/31/4/004, from
// memory) within a sweep from 20 to 150 ms (150 ms being the window of
// ANSI/AAMI EC57 for beats, from memory).
func DefaultRules() Rules {
	var sweep []time.Duration
	for _, ms := range []int{20, 30, 40, 50, 60, 80, 100, 150} {
		sweep = append(sweep, time.Duration(ms)*time.Millisecond)
	}
	return Rules{
		Anchor:     Centre,
		Tolerances: sweep,
		Headline:   60 * time.Millisecond,
		Gap:        30 * time.Millisecond,
		Edge:       time.Millisecond,
	}
}

// Validate reports the first rule that cannot be followed.
func (r *Rules) Validate() error {
	if int(r.Anchor) >= anchors {
		return fmt.Errorf("rules: anchor %v: want one of %s", r.Anchor, strings.Join(anchorNames[:], ", "))
	}
	if len(r.Tolerances) == 0 {
		return fmt.Errorf("rules: no tolerance: give at least the headline's")
	}
	for i, t := range r.Tolerances {
		if t < 0 {
			return fmt.Errorf("rules: tolerance %v is negative: give half-widths of zero or more", t)
		}
		if i > 0 && t <= r.Tolerances[i-1] {
			return fmt.Errorf("rules: tolerance %v follows %v: give them ascending, each once", t, r.Tolerances[i-1])
		}
	}
	if r.headline() < 0 {
		return fmt.Errorf("rules: headline tolerance %v is not one of the sweep %v: add it", r.Headline, r.Tolerances)
	}
	if r.Gap < 0 || r.Edge < 0 {
		return fmt.Errorf("rules: gap %v or edge %v is negative: give zero or more", r.Gap, r.Edge)
	}
	return nil
}

// headline returns the index of the headline tolerance, or −1.
func (r *Rules) headline() int { return slices.Index(r.Tolerances, r.Headline) }

// SetHeadline makes t the headline tolerance and adds it to the sweep where it
// is not yet part of it.
func (r *Rules) SetHeadline(t time.Duration) {
	r.Headline = t
	if i, found := slices.BinarySearch(r.Tolerances, t); !found {
		r.Tolerances = slices.Insert(slices.Clone(r.Tolerances), i, t)
	}
}

// Difference names the first rule in which r and other differ, with both
// values, or returns the empty string where they agree.
func (r *Rules) Difference(other *Rules) string {
	for _, d := range []struct {
		name string
		a, b any
	}{
		{"anchor", r.Anchor, other.Anchor},
		{"tolerances", fmt.Sprint(r.Tolerances), fmt.Sprint(other.Tolerances)},
		{"headline tolerance", r.Headline, other.Headline},
		{"gap closed in scored time", r.Gap, other.Gap},
		{"edge of the recording", r.Edge, other.Edge},
	} {
		if d.a != d.b {
			return fmt.Sprintf("%s: %v against %v", d.name, d.a, d.b)
		}
	}
	return ""
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
