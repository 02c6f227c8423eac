package report

import (
	"time"

	"phonocycle/eval"
)

// Details is what a page shows of a run beyond its summary: one row per recording
// (some 150 bytes) and the distributions of time differences.
type Details struct {
	Recordings []ScoredRecording // in the order of Add
	places     [len(placeNames)]histogram
	RToS1      *RToS1 // nil unless an ECG is the reference
}

// ScoredRecording is a recording that is in the scores, at the headline anchor and
// tolerance.
type ScoredRecording struct {
	Recording, Person string
	Failed            bool
	Events            int // in the reference
	TP, FP, FN        int // of the sounds that are scored
	Exchanged         bool

	Reference, Predicted eval.Beat
}

// F1 returns F1 of the sounds that are scored.
func (s *ScoredRecording) F1() eval.Ratio { return eval.F1(s.TP, s.FP, s.FN) }

// placeNames are the points of sounds whose time differences are shown.
var placeNames = [...]string{"S1 onset", "S1 offset", "S2 onset", "S2 offset", "S1 anchor", "S2 anchor"}

// histogram counts differences in bins centred on multiples of binWidth. The
// outermost bins also count all differences beyond them.
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

// Add adds the result of one recording. It keeps no reference to it.
func (d *Details) Add(r *eval.Result, rules *eval.Rules) {
	if r.Status == eval.Excluded {
		return
	}
	s := ScoredRecording{
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
	class := int(m.Class)
	d.places[4+class].add(m.Delta)
	if m.HasOnset {
		d.places[2*class].add(m.OnsetDelta)
	}
	if m.HasOffset {
		d.places[2*class+1].add(m.OffsetDelta)
	}
}
