package report

import (
	"time"

	"phonocycle/eval"
)

// Details are what figures need of the results of a run beyond its summary: one
// line a recording, and the distribution of time differences. They grow by some
// 150 bytes a recording.
type Details struct {
	Recordings []Scored // in the order in which they were added
	places     [len(placeNames)]histogram
}

// Scored is what the page says of one recording that is in the scores.
type Scored struct {
	Recording, Person string
	Failed            bool
	Events            int // in the reference
	TP, FP, FN        int // both sounds, at the headline
	Exchanged         bool

	Reference, Predicted eval.Beat
}

// F1 of both sounds at the headline.
func (s *Scored) F1() eval.Ratio { return eval.F1(s.TP, s.FP, s.FN) }

// Recall of both sounds at the headline.
func (s *Scored) Recall() eval.Ratio { return eval.Recall(s.TP, s.FN) }

// Precision of both sounds at the headline.
func (s *Scored) Precision() eval.Ratio { return eval.Precision(s.TP, s.FP) }

// The places of a sound whose time differences are shown.
const (
	s1Onset = iota
	s1Offset
	s2Onset
	s2Offset
	s1Anchor
	s2Anchor
)

var placeNames = [...]string{"S1 onset", "S1 offset", "S2 onset", "S2 offset", "S1 anchor", "S2 anchor"}

// A histogram counts differences in bins of binWidth centred on its multiples;
// what lies beyond binReach is counted in the outermost.
type histogram struct {
	n    int
	bins [2*binsAside + 1]int
}

const (
	binWidth  = 5 * time.Millisecond
	binsAside = 24 // to ±120 ms
)

func (h *histogram) add(delta time.Duration) {
	half := binWidth / 2
	if delta < 0 {
		half = -half
	}
	h.n++
	h.bins[binsAside+min(max(int((delta+half)/binWidth), -binsAside), binsAside)]++
}

// Add takes in the result of one recording. It keeps no reference to it.
func (d *Details) Add(r *eval.Result, rules *eval.Rules) {
	if r.Status == eval.Excluded {
		return
	}
	s := Scored{
		Recording: r.Recording, Person: r.Person, Failed: r.Status == eval.Failed, Exchanged: r.Measures.Exchanged,
		Reference: r.Measures.Reference, Predicted: r.Measures.Predicted,
	}
	for _, n := range r.Counts {
		if n.Anchor == rules.Anchor && n.Tolerance == rules.Headline {
			s.TP, s.FP, s.FN = s.TP+n.TP, s.FP+n.FP, s.FN+n.FN
		}
	}
	for i := range r.Matches {
		m := &r.Matches[i]
		if m.Source != eval.FromReference {
			continue
		}
		s.Events++
		if m.Outcome == eval.TruePositive {
			d.addDeltas(m)
		}
	}
	d.Recordings = append(d.Recordings, s)
}

func (d *Details) addDeltas(m *eval.Match) {
	onset, offset, anchor := s1Onset, s1Offset, s1Anchor
	if m.Class == eval.S2 {
		onset, offset, anchor = s2Onset, s2Offset, s2Anchor
	}
	d.places[anchor].add(m.Delta)
	if m.HasOnset {
		d.places[onset].add(m.OnsetDelta)
	}
	if m.HasOffset {
		d.places[offset].add(m.OffsetDelta)
	}
}
