package eval

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// deltaBin is the width of the bins from which quantiles of time differences come.
const deltaBin = 250 * time.Microsecond

// Rules are the choices on which a score depends. Two scores can be compared
// only where they are equal.
type Rules struct {
	// Reference is the name of the reference among those of the data set; empty
	// where it has none.
	Reference string

	// S1Only says that the reference marks no S2: S1 alone is scored.
	S1Only bool

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
	if r.S1Only && r.Anchor != Centre {
		return fmt.Errorf("rules: anchor %v: the reference %s marks points, which have a centre only", r.Anchor, r.Reference)
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

// scored lists the classes of events that are scored.
func (r *Rules) scored() []Class {
	if r.S1Only {
		return []Class{S1}
	}
	return []Class{S1, S2}
}

// reported lists the classes of scores, that of the headline first.
func (r *Rules) reported() []Class {
	if r.S1Only {
		return []Class{S1}
	}
	return []Class{Both, S1, S2}
}

// headline returns the index of the headline tolerance, or −1.
func (r *Rules) headline() int { return slices.Index(r.Tolerances, r.Headline) }

// SetHeadline makes t the headline tolerance and adds it to the sweep where it
// is not yet part of it.
func (r *Rules) SetHeadline(t time.Duration) {
	r.Headline = t
	r.AddTolerance(t)
}

// AddTolerance adds a tolerance to the sweep where it is not yet part of it.
func (r *Rules) AddTolerance(t time.Duration) {
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
		{"reference", r.Reference, other.Reference},
		{"sounds", fmt.Sprint(r.reported()), fmt.Sprint(other.reported())},
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

// RulesSummary is [Rules] in numbers and in words.
type RulesSummary struct {
	Reference    string    `json:"reference,omitempty"` // name
	Sounds       []Class   `json:"sounds"`              // that the reference marks
	Anchor       Anchor    `json:"anchor"`
	TolerancesMS []float64 `json:"tolerances_ms"`
	HeadlineMS   float64   `json:"headline_tolerance_ms"`
	GapMS        float64   `json:"gap_ms"`
	EdgeMS       float64   `json:"edge_ms"`
	Matching     string    `json:"matching"`
	ScoredTime   string    `json:"scored_time"`
	Edges        string    `json:"edges"`
	Failures     string    `json:"failures"`
	Repairs      string    `json:"repairs,omitempty"`
	Means        string    `json:"means"`
	Cycles       string    `json:"cycles,omitempty"`
	Boundaries   string    `json:"boundaries,omitempty"`
	S1           string    `json:"s1_only,omitempty"`  // what follows where the reference marks S1 only
	Exchange     string    `json:"exchange,omitempty"` // where it differs from the usual
	Rates        string    `json:"rates"`
	Intervals    string    `json:"intervals"`

	// RateBands are the borders between bands of heart rate, in beats per minute;
	// a band holds its lower border.
	RateBands []float64 `json:"heart_rate_bands_per_min"`
}

// summary puts the rules into numbers and words.
func (r *Rules) summary() RulesSummary {
	s := RulesSummary{
		Reference: r.Reference, Sounds: r.scored(), Anchor: r.Anchor, HeadlineMS: milliseconds(r.Headline), GapMS: milliseconds(r.Gap), EdgeMS: milliseconds(r.Edge),
		Matching:   "one-to-one within a class, |predicted − reference| ≤ tolerance: most pairs first, then least total distance",
		ScoredTime: fmt.Sprintf("annotated states, half-open from start to end, gaps of up to %g ms closed; for points from the first to the last, widened by the tolerance, both ends included; a prediction outside may match and is never a false positive", milliseconds(r.Gap)),
		Edges:      fmt.Sprintf("a reference sound that reaches to within %g ms of the start or end of the recording counts as cut by it: it may absorb a match and is not missed; where the length of the recording is not known, its end cuts nothing", milliseconds(r.Edge)),
		Failures:   "a recording without output misses all its reference events; one without reference is in no score",
		Repairs:    "of the reference before it is scored, as the column repairs of the table recordings says: rows sorted, repeated and empty rows dropped, overlapping rows ended where the next begins",
		Means:      "over the recordings or people in which the ratio exists; recall needs a reference event, precision a prediction",
		Cycles:     "whole where S1, S2 and S1 of the reference follow each other in one stretch of scored time and none is cut by an end of the recording; right where all three are matched with three predicted sounds in a row, at the headline",
		Boundaries: fmt.Sprintf("of matched pairs of the headline, where on both sides the neighbouring state of the cycle lies within %g ms; quantiles from bins of %g ms, so to ±%g ms", milliseconds(r.Gap), milliseconds(deltaBin), milliseconds(deltaBin)/2),
		Rates:      fmt.Sprintf("heart rate is 60 s over the median time from S1 to the next S1, systole the median time from S1 to S2, between headline anchors, over at least %d successions S1, S2, S1 in one stretch of scored time on that side", minBeats),
		Intervals:  "bootstrap over people, BCa, widened for few people; percentile where BCa is undefined",
		RateBands:  rateBands[:],
	}
	if r.S1Only {
		s.S1 = "S2 has no reference and is in no score, neither right nor wrong; whole cycles, systole, boundaries and states over time are left out"
		s.ScoredTime = "from the first to the last S1 of the reference, widened by the tolerance, without the time in which its beats are not known; a prediction outside may match and is never a false positive"
		s.Exchange = "S1 of the reference matched with S2 of the prediction; a recording is flagged where predicted S2 fit the reference better than predicted S1"
		s.Rates = fmt.Sprintf("heart rate is 60 s over the median time from S1 to the next S1, between headline anchors, over at least %d of them in one stretch of scored time on that side", minBeats)
		s.Repairs, s.Cycles, s.Boundaries = "", "", ""
	}
	for _, t := range r.Tolerances {
		s.TolerancesMS = append(s.TolerancesMS, milliseconds(t))
	}
	return s
}

// Rule is one rule in words.
type Rule struct{ Name, Text string }

// Words lists the rules that are stated in words, in the order of printing.
func (s *RulesSummary) Words() []Rule {
	list := []Rule{
		{"Reference", s.Reference}, {"S1 only", s.S1}, {"Matching", s.Matching}, {"Scored time", s.ScoredTime}, {"Edges", s.Edges}, {"Failures", s.Failures},
		{"Repairs", s.Repairs}, {"Means", s.Means}, {"Cycles", s.Cycles}, {"Boundaries", s.Boundaries},
		{"Exchange", s.Exchange}, {"Rates", s.Rates},
	}
	return slices.DeleteFunc(list, func(r Rule) bool { return r.Text == "" })
}

// S1Only reports whether S1 alone is scored.
func (s *RulesSummary) S1Only() bool { return len(s.Sounds) == 1 && s.Sounds[0] == S1 }

// reported lists the classes of scores, that of the headline first.
func (s *RulesSummary) reported() []Class {
	if s.S1Only() {
		return []Class{S1}
	}
	return []Class{Both, S1, S2}
}

// HeadlineClass returns the class of the headline.
func (s *RulesSummary) HeadlineClass() Class {
	if s.S1Only() {
		return S1
	}
	return Both
}

// SoundsScored says what the headline is about: both sounds, or S1 alone.
func (s *RulesSummary) SoundsScored() string {
	if s.S1Only() {
		return "S1"
	}
	return "both sounds"
}

// Rules returns the rules that s states.
func (s *RulesSummary) Rules() Rules {
	r := Rules{Reference: s.Reference, S1Only: s.S1Only(), Anchor: s.Anchor, Headline: fromMilliseconds(s.HeadlineMS), Gap: fromMilliseconds(s.GapMS), Edge: fromMilliseconds(s.EdgeMS)}
	for _, t := range s.TolerancesMS {
		r.Tolerances = append(r.Tolerances, fromMilliseconds(t))
	}
	return r
}

func milliseconds(t time.Duration) float64 { return float64(t) / float64(time.Millisecond) }

// fromMilliseconds is the inverse of milliseconds.
func fromMilliseconds(ms float64) time.Duration {
	return time.Duration(math.Round(ms * float64(time.Millisecond)))
}
