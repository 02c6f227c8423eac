package eval

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// pointsOf are sounds as points, at the given milliseconds.
func pointsOf(sound pcg.State, at ...int) []pcg.Point {
	var points []pcg.Point
	for _, t := range at {
		points = append(points, pcg.Point{At: time.Duration(t) * ms, Sound: sound})
	}
	return points
}

// markedByPoints is a recording of three annotated cycles (S1 at 550, 1350 and 2150
// ms, S2 at 850, 1650 and 2450 ms), in which points find two S1 within 60 ms and two
// S2, with one S1 70 ms off and one S2 too many.
func markedByPoints() Case {
	points := append(pointsOf(pcg.S1, 550, 1420, 2210), pointsOf(pcg.S2, 850, 1100, 1650)...)
	return Case{Recording: "a", Person: "p", Reference: fromIntervals(beats(500*ms, 3)), PredictsPoints: true, PredictedPoints: points, Length: 4 * time.Second}
}

func TestScoreOfPredictedPoints(t *testing.T) {
	r := mustScore(t, DefaultRules(), markedByPoints())
	for _, tt := range []struct {
		class      Class
		tolerance  time.Duration
		tp, fp, fn int
	}{{S1, 50 * ms, 1, 2, 2}, {S1, 60 * ms, 2, 1, 1}, {S1, 80 * ms, 3, 0, 0}, {S2, 60 * ms, 2, 1, 1}} {
		if n := at(t, r, tt.class, Centre, tt.tolerance); n.TP != tt.tp || n.FP != tt.fp || n.FN != tt.fn {
			t.Errorf("%v at %v: %+v, want %d, %d, %d", tt.class, tt.tolerance, n, tt.tp, tt.fp, tt.fn)
		}
	}
	for _, n := range r.Counts {
		if n.Anchor != Centre {
			t.Fatalf("points have counts at the %v", n.Anchor)
		}
	}
	for _, m := range r.Matches {
		if m.HasOnset || m.HasOffset {
			t.Fatalf("a point has an onset or an offset: %+v", m)
		}
	}
	if r.Frames.Total() != 0 {
		t.Errorf("%v of states are compared with points", r.Frames.Total())
	}
	failed := markedByPoints()
	failed.Failed = true
	if r := mustScore(t, DefaultRules(), failed); at(t, r, S1, Centre, 60*ms).FN != 3 || r.Frames.Total() != 0 || !r.CentreOnly {
		t.Errorf("without output: %+v", r)
	}
}

// A summary of predicted points has no onset, no boundary and no states over time, and
// says so.
func TestSummaryOfPredictedPoints(t *testing.T) {
	acc := NewAccumulator(DefaultRules(), Options{Resamples: 50, Seed: 1})
	for i := range 6 {
		c := markedByPoints()
		c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i)
		r := mustScore(t, DefaultRules(), c)
		acc.Add(&r)
	}
	s := acc.Summary()
	if h := s.HeadlineRow; h.Class != Both || h.TP != 24 || h.FP != 12 || h.FN != 12 {
		t.Errorf("headline %+v, want 24, 12, 12", h)
	}
	for _, row := range s.Scores {
		if row.Anchor != Centre {
			t.Fatalf("a score at the %v", row.Anchor)
		}
	}
	if len(s.Timing) != classes || s.Timing.Place("S1 anchor (centre)").N != 12 || s.Frames.Total != 0 {
		t.Errorf("timing %+v, %v s of states", s.Timing, s.Frames.Total)
	}
	var b bytes.Buffer
	if err := s.WriteText(&b); err != nil || !strings.Contains(b.String(), "prediction marks points: onsets, offsets, boundaries and states over time") || strings.Contains(b.String(), "NaN") {
		t.Errorf("%v\n%s", err, b.String())
	}
}

// Points are compared with intervals, and audited: against a reference they differ
// from as any method does.
func TestPointsBesideIntervals(t *testing.T) {
	run := func(name string, points bool) Run {
		acc := NewAccumulator(DefaultRules(), Options{Resamples: 50, Seed: 1})
		for i := range 6 {
			c := markedByPoints()
			if !points {
				c.PredictsPoints, c.PredictedPoints, c.Predicted = false, nil, beats(500*ms, 3)
			}
			c.Recording, c.Person = fmt.Sprint("r", i), fmt.Sprint("p", i)
			r := mustScore(t, DefaultRules(), c)
			acc.Add(&r)
		}
		return Run{Name: name, Results: acc}
	}
	c, err := Compare([]Run{run("points", true), run("intervals", false)}, Options{Resamples: 50})
	if err != nil {
		t.Fatal(err)
	}
	if d := c.Pairs[0].difference(Both, Pooled); d.First != Ratio(48./72) || d.Second != 1 {
		t.Errorf("F1 %v and %v, want 2/3 and 1", d.First, d.Second)
	}
	late := Prediction{Points: append(pointsOf(pcg.S1, 700, 1500, 2300), pointsOf(pcg.S2, 1000, 1800, 2600)...)}
	a := mustAudit(t)
	a.Add(Case{Recording: "r", Reference: fromIntervals(beats(500*ms, 3)), Length: 4 * time.Second}, []Prediction{late, late})
	if audit := a.Audit(); audit.ByReason[AgainstAllMethods.String()] != 1 {
		t.Errorf("findings %+v", audit.Findings)
	}
}
