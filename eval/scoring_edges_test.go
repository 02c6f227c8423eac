package eval

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// A reference sound is cut where it reaches to within the edge of 1 ms of the start
// or the end of the recording, and in a recording of unknown length only at its start.
func TestSoundsAreCutAtTheEdge(t *testing.T) {
	const length = 5 * time.Second
	at := func(start, end time.Duration) pcg.Interval {
		return pcg.Interval{Start: start, End: end, State: pcg.S1}
	}
	for _, tt := range []struct {
		sound  pcg.Interval
		length time.Duration
		cut    bool
	}{
		{at(ms, 90*ms), length, true},
		{at(ms+1, 90*ms), length, false},
		{at(4900*ms, length-ms), length, true},
		{at(4900*ms, length-ms-1), length, false},
		{at(4900*ms, length+ms), length, true},
		{at(4900*ms, length), 0, false},
		{at(0, 90*ms), 0, true},
	} {
		filled := pcg.Interval{Start: time.Second, End: 4 * time.Second, State: pcg.Diastole}
		list := []pcg.Interval{tt.sound, filled}
		if tt.sound.Start > filled.Start {
			slices.Reverse(list)
		}
		// A prediction is never cut: here it is 20 ms off and matches.
		r := mustScore(t, DefaultRules(), Case{Reference: fromIntervals(list), Predicted: shifted([]pcg.Interval{tt.sound}, 20*ms), Length: tt.length})
		want := TruePositive
		if tt.cut {
			want = Absorbed
		}
		for _, m := range r.Matches {
			if m.Outcome != want {
				t.Errorf("%v in %v: %v sound is %v, want %v", tt.sound, tt.length, m.Source, m.Outcome, want)
			}
		}
		if missed := mustScore(t, DefaultRules(), Case{Reference: fromIntervals(list), Length: tt.length}).Matches[0].Outcome; (missed == Cut) != tt.cut {
			t.Errorf("%v in %v, not found: %v", tt.sound, tt.length, missed)
		}
	}
}

// The centre of a sound of odd length is rounded down to a nanosecond, on both sides
// alike: a pair exactly at the tolerance stays one.
func TestCentresAreRoundedDown(t *testing.T) {
	reference := []pcg.Interval{{Start: time.Second, End: time.Second + 3, State: pcg.S1}, {Start: 2 * time.Second, End: 3 * time.Second, State: pcg.Diastole}}
	centre := time.Second + 1
	for _, tt := range []struct {
		end  time.Duration // of the predicted sound
		want Outcome
	}{{centre + 120*ms, TruePositive}, {centre + 120*ms + 1, TruePositive}, {centre + 120*ms + 2, FalseNegative}} {
		r := mustScore(t, DefaultRules(), Case{Reference: fromIntervals(reference), Predicted: []pcg.Interval{{Start: centre, End: tt.end, State: pcg.S1}}})
		if m := r.Matches[0]; m.Anchor != centre || m.Outcome != tt.want {
			t.Errorf("predicted up to %d: reference at %d is %v, want %v at %d", tt.end, m.Anchor, m.Outcome, tt.want, centre)
		}
	}
	for anchor, want := range []time.Duration{4, 3, 6} {
		if got := Anchor(anchor).of(3, 6); got != want {
			t.Errorf("%v of 3 to 6 is %d, want %d", Anchor(anchor), got, want)
		}
	}
}

// Where two pairings are equally good, the one of earlier events is taken.
func TestEqualPairingsTakeTheEarlierEvents(t *testing.T) {
	var m matcher
	if got := m.match([]time.Duration{50}, []time.Duration{40, 60}, 10); !slices.Equal(got, []int32{0}) {
		t.Errorf("of two predictions, number %v is taken", got)
	}
	if got := m.match([]time.Duration{40, 60}, []time.Duration{50}, 10); !slices.Equal(got, []int32{0, -1}) {
		t.Errorf("of two references, %v are paired", got)
	}
}

func TestScoredTime(t *testing.T) {
	at := func(start, end int) pcg.Interval {
		return pcg.Interval{Start: time.Duration(start) * ms, End: time.Duration(end) * ms, State: pcg.S1}
	}
	points := func(times ...int) pcg.Reference {
		r := pcg.Reference{Kind: pcg.PointReference}
		for _, at := range times {
			r.Points = append(r.Points, pcg.Point{At: time.Duration(at) * ms, Sound: pcg.S1})
		}
		return r
	}
	for _, tt := range []struct {
		name      string
		reference pcg.Reference
		length    time.Duration
		want      time.Duration
	}{
		{"two stretches", fromIntervals([]pcg.Interval{at(100, 200), at(231, 300)}), time.Second, 169 * ms},
		{"a gap that is closed", fromIntervals([]pcg.Interval{at(100, 200), at(230, 300)}), time.Second, 200 * ms},
		{"one within another", fromIntervals([]pcg.Interval{at(100, 400), at(150, 200), at(420, 500)}), time.Second, 400 * ms},
		{"beyond the end", fromIntervals([]pcg.Interval{at(100, 200), at(900, 1200)}), time.Second, 200 * ms},
		{"of unknown length", fromIntervals([]pcg.Interval{at(100, 200), at(900, 1200)}), 0, 400 * ms},
		{"wholly beyond the end", fromIntervals([]pcg.Interval{at(100, 200), at(1100, 1200)}), time.Second, 100 * ms},
		{"points, widened", points(300, 500), time.Second, 320*ms + 1},
		{"points near the start", points(40, 500), time.Second, 560*ms + 1},
		{"points near the end", points(300, 990), time.Second, 760 * ms},
	} {
		if got := mustScore(t, DefaultRules(), Case{Reference: tt.reference, Length: tt.length}).ScoredTime; got != tt.want {
			t.Errorf("%s: %v are scored, want %v", tt.name, got, tt.want)
		}
	}
}

// Boundaries are compared only where both sides have the neighbouring state.
func TestBoundariesNeedANeighbourOnBothSides(t *testing.T) {
	at := func(start, end int, s pcg.State) pcg.Interval {
		return pcg.Interval{Start: time.Duration(start) * ms, End: time.Duration(end) * ms, State: s}
	}
	alone := []pcg.Interval{at(500, 600, pcg.S1)}
	before := []pcg.Interval{at(400, 500, pcg.Diastole), at(500, 600, pcg.S1)}
	after := []pcg.Interval{at(500, 600, pcg.S1), at(630, 700, pcg.Systole)}
	apart := []pcg.Interval{at(500, 600, pcg.S1), at(631, 700, pcg.Systole)}
	wrong := []pcg.Interval{at(400, 500, pcg.Systole), at(500, 600, pcg.S1), at(600, 700, pcg.Diastole)}
	whole := []pcg.Interval{at(400, 500, pcg.Diastole), at(500, 600, pcg.S1), at(600, 700, pcg.Systole)}
	for _, tt := range []struct {
		name                 string
		reference, predicted []pcg.Interval
		onset, offset        bool
	}{
		{"both sides", whole, whole, true, true},
		{"reference alone", alone, whole, false, false},
		{"prediction alone", whole, alone, false, false},
		{"one has the onset, the other the offset", before, after, false, false},
		{"onset", before, whole, true, false},
		{"offset, 30 ms apart", whole, after, false, true},
		{"offset, 31 ms apart", whole, apart, false, false},
		{"states that are not neighbours", wrong, whole, false, false},
	} {
		r := mustScore(t, DefaultRules(), Case{Reference: fromIntervals(tt.reference), Predicted: tt.predicted, Length: time.Second})
		if m := r.Matches[0]; m.HasOnset != tt.onset || m.HasOffset != tt.offset {
			t.Errorf("%s: onset %v, offset %v; want %v, %v", tt.name, m.HasOnset, m.HasOffset, tt.onset, tt.offset)
		}
	}
}

// Rows name the partner and the difference, predicted minus reference, on both sides.
func TestMatchesNameTheirPartner(t *testing.T) {
	reference := []pcg.Interval{{Start: 400 * ms, End: 500 * ms, State: pcg.Diastole}, {Start: 500 * ms, End: 600 * ms, State: pcg.S1}, {Start: 600 * ms, End: 900 * ms, State: pcg.Systole}}
	predicted := []pcg.Interval{{Start: 400 * ms, End: 490 * ms, State: pcg.Diastole}, {Start: 490 * ms, End: 640 * ms, State: pcg.S1}, {Start: 640 * ms, End: 900 * ms, State: pcg.Systole}}
	r := mustScore(t, DefaultRules(), Case{Recording: "r", Reference: fromIntervals(reference), Predicted: predicted, Length: time.Second})
	want := []Match{
		{Recording: "r", Source: FromReference, Class: S1, Start: 500 * ms, End: 600 * ms, Anchor: 550 * ms, Partner: 565 * ms, Delta: 15 * ms,
			HasOnset: true, OnsetDelta: -10 * ms, HasOffset: true, OffsetDelta: 40 * ms},
		{Recording: "r", Source: FromPrediction, Class: S1, Start: 490 * ms, End: 640 * ms, Anchor: 565 * ms, Partner: 550 * ms, Delta: 15 * ms},
	}
	if !slices.Equal(r.Matches, want) {
		t.Errorf("rows %+v\nwant %+v", r.Matches, want)
	}
}

// The median of an even number of times is the mean of the middle two, rounded down.
func TestBeat(t *testing.T) {
	if got := median([]time.Duration{9, 2, 5, 4}); got != 4 {
		t.Errorf("median of 2, 4, 5, 9 is %d", got)
	}
	if got := median([]time.Duration{9, 2, 5}); got != 5 {
		t.Errorf("median of 2, 5, 9 is %d", got)
	}
	// Three cycles of 700, 800 and 1000 ms with systoles of 300, 320 and 280 ms.
	var list []pcg.Interval
	for _, s := range []struct {
		at    int
		state pcg.State
	}{{1000, pcg.S1}, {1300, pcg.S2}, {1700, pcg.S1}, {2020, pcg.S2}, {2500, pcg.S1}, {2780, pcg.S2}, {3500, pcg.S1}} {
		list = append(list, sounds(s.state, s.at)...)
	}
	list = append([]pcg.Interval{{Start: 500 * ms, End: 4 * time.Second, State: pcg.Diastole}}, list...) // one stretch
	m := mustScore(t, DefaultRules(), Case{Reference: fromIntervals(list), Predicted: list[1:6], Length: 10 * time.Second}).Measures
	if want := (Beat{CycleLength: 800 * ms, Systole: 300 * ms}); m.Reference != want || m.Reference.Rate() != 75 {
		t.Errorf("beat %+v at %v a minute, want %+v at 75", m.Reference, m.Reference.Rate(), want)
	}
	if (m.Predicted != Beat{}) || !m.Predicted.Rate().Null() {
		t.Errorf("two cycles have the beat %+v", m.Predicted)
	}
}

// Points have no scored time beyond them, so that swapped labels count like plain ones.
func TestExchangedAgainstTheEnds(t *testing.T) {
	// Found with labels swapped: S2 of the prediction on S1 of the reference, one more
	// outside scored time; the first reference sound is cut and may find a partner.
	reference := append([]pcg.Interval{{Start: 0, End: 100 * ms, State: pcg.S1}, {Start: 100 * ms, End: 700 * ms, State: pcg.Systole}}, sounds(pcg.S1, 750, 850)...)
	s, err := NewScorer(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		predicted  []pcg.Interval
		tp, fp, fn int
	}{
		{sounds(pcg.S2, 50, 750, 850), 2, 0, 0},   // the one at the cut sound is absorbed
		{sounds(pcg.S2, 300, 750), 1, 1, 1},       // one too many within scored time
		{sounds(pcg.S2, 750, 1500), 1, 0, 1},      // one outside it
		{sounds(pcg.S1, 750, 850), 0, 2, 2},       // right as it is
		{sounds(pcg.S2, 795, 800, 805), 2, 1, 0},  // three for two
		{sounds(pcg.S2, 740, 850, 905), 2, 0, 0},  // the last lies outside
		{sounds(pcg.S2, 740, 850, -100), 2, 0, 0}, // before the recording
	} {
		s.Score(&Case{Reference: fromIntervals(reference), Predicted: tt.predicted, Length: 3 * time.Second})
		if got := s.swapped(); got != (counts{tt.tp, tt.fp, tt.fn}) {
			t.Errorf("%v: swapped %+v, want %d, %d, %d", tt.predicted, got, tt.tp, tt.fp, tt.fn)
		}
	}
	for _, tt := range []struct {
		t, u counts
		want bool
	}{{counts{2, 1, 1}, counts{2, 1, 1}, false}, {counts{2, 1, 1}, counts{2, 1, 2}, true}, {counts{2, 1, 2}, counts{2, 2, 0}, false}, {counts{1, 0, 0}, counts{9, 1, 0}, true}, {counts{}, counts{}, false}} {
		if got := tt.t.higherF1(tt.u); got != tt.want {
			t.Errorf("F1 of %v higher than of %v: %v", tt.t, tt.u, got)
		}
	}
}

func TestRulesRefuse(t *testing.T) {
	for _, tt := range []struct {
		spoil func(*Rules)
		want  string
	}{
		{func(r *Rules) { r.Anchor = anchors }, "want one of centre, onset, offset"},
		{func(r *Rules) { r.Tolerances = nil }, "no tolerance"},
		{func(r *Rules) { r.Tolerances = []time.Duration{-1, 60 * ms} }, "is negative"},
		{func(r *Rules) { r.Tolerances = []time.Duration{60 * ms, 60 * ms} }, "60ms follows 60ms"},
		{func(r *Rules) { r.Headline = 61 * ms }, "61ms is not one of the sweep"},
		{func(r *Rules) { r.Gap = -1 }, "gap -1ns or edge 1ms is negative"},
		{func(r *Rules) { r.Edge = -1 }, "edge -1ns is negative"},
	} {
		rules := DefaultRules()
		tt.spoil(&rules)
		if err := rules.Validate(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want one with %q", err, tt.want)
		}
		if _, err := NewScorer(rules); err == nil {
			t.Errorf("a scorer follows rules that are refused: %s", tt.want)
		}
		if _, err := NewAuditor(rules); err == nil || !strings.HasPrefix(err.Error(), "audit: rules: ") {
			t.Errorf("an auditor: %v", err)
		}
	}
	loose := DefaultRules()
	loose.Tolerances, loose.Headline, loose.Gap, loose.Edge = []time.Duration{0, 60 * ms}, 60*ms, 0, 0
	if err := loose.Validate(); err != nil {
		t.Errorf("zeros are refused: %v", err)
	}
}

// Every rule can tell two scores apart, and comes back from its summary.
func TestRulesDiffer(t *testing.T) {
	for _, tt := range []struct {
		change func(*Rules)
		want   string
	}{
		{func(r *Rules) { r.Anchor = Offset }, "anchor: centre against offset"},
		{func(r *Rules) { r.Headline = 50 * ms }, "headline tolerance: 60ms against 50ms"},
		{func(r *Rules) { r.Gap = 20 * ms }, "gap closed in scored time: 30ms against 20ms"},
		{func(r *Rules) { r.Edge = 2500 * time.Microsecond }, "edge of the recording: 1ms against 2.5ms"},
		{func(*Rules) {}, ""},
	} {
		a, b := DefaultRules(), DefaultRules()
		tt.change(&b)
		if got := a.Difference(&b); got != tt.want {
			t.Errorf("difference %q, want %q", got, tt.want)
		}
		s := b.summary()
		back := s.Rules()
		if d := b.Difference(&back); d != "" {
			t.Errorf("after a summary: %s", d)
		}
	}
	s := DefaultRules()
	if got, want := fmt.Sprint(s.summary().TolerancesMS), "[20 30 40 50 60 80 100 150]"; got != want {
		t.Errorf("tolerances %s ms, want %s", got, want)
	}
}
