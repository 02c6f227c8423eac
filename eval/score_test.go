package eval

import (
	"math/rand/v2"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// sounds lays 100 ms sounds centred at the given milliseconds.
func sounds(state pcg.State, centres ...int) []pcg.Interval {
	var list []pcg.Interval
	for _, c := range centres {
		at := time.Duration(c) * ms
		list = append(list, pcg.Interval{Start: at - 50*ms, End: at + 50*ms, State: state})
	}
	return list
}

// beats lays whole cycles of 800 ms from start: S1 100 ms, systole 200 ms, S2
// 100 ms, diastole 400 ms. S1 is centred 50 ms and S2 350 ms after the start.
func beats(start time.Duration, n int) []pcg.Interval {
	var list []pcg.Interval
	for range n {
		for i, length := range []time.Duration{100 * ms, 200 * ms, 100 * ms, 400 * ms} {
			list = append(list, pcg.Interval{Start: start, End: start + length, State: pcg.Cycle[i]})
			start += length
		}
	}
	return list
}

// shifted moves intervals in time.
func shifted(list []pcg.Interval, by time.Duration) []pcg.Interval {
	out := make([]pcg.Interval, len(list))
	for i, iv := range list {
		out[i] = pcg.Interval{Start: iv.Start + by, End: iv.End + by, State: iv.State}
	}
	return out
}

func fromIntervals(list []pcg.Interval) pcg.Reference {
	return pcg.Reference{Kind: pcg.IntervalReference, Intervals: list}
}

func mustScore(t testing.TB, rules Rules, c Case) Result {
	t.Helper()
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	return s.Score(&c)
}

// at finds one count.
func at(t testing.TB, r Result, class Class, anchor Anchor, tolerance time.Duration) Count {
	t.Helper()
	for _, n := range r.Counts {
		if n.Class == class && n.Anchor == anchor && n.Tolerance == tolerance {
			return n
		}
	}
	t.Fatalf("no count for %v, %v, %v", class, anchor, tolerance)
	return Count{}
}

func TestScoreEdgeCases(t *testing.T) {
	rules := DefaultRules()
	rules.Tolerances = append([]time.Duration{0}, rules.Tolerances...)
	annotated := func(list ...pcg.Interval) pcg.Reference { return fromIntervals(list) }
	filled := pcg.Interval{Start: 100 * ms, End: 3000 * ms, State: pcg.Diastole}
	join := func(lists ...[]pcg.Interval) (all []pcg.Interval) {
		for _, l := range lists {
			all = append(all, l...)
		}
		return all
	}
	type want struct{ tp, fp, fn, ignored int }
	tests := []struct {
		name      string
		reference pcg.Reference
		predicted []pcg.Interval
		tolerance time.Duration
		want      want
	}{
		{"no reference sound in scored time", annotated(filled), sounds(pcg.S1, 1000), 60 * ms, want{0, 1, 0, 0}},
		{"nothing on either side", annotated(filled), nil, 60 * ms, want{}},
		{"nothing predicted", fromIntervals(beats(500*ms, 2)), nil, 60 * ms, want{0, 0, 2, 0}},
		{"two predictions in one window", fromIntervals(beats(500*ms, 1)), sounds(pcg.S1, 520, 580), 60 * ms, want{1, 1, 0, 0}},
		{"one prediction between two references",
			annotated(join(sounds(pcg.S1, 500), sounds(pcg.S1, 600))...), sounds(pcg.S1, 550), 60 * ms, want{1, 0, 1, 0}},
		{"exactly at the tolerance", fromIntervals(beats(500*ms, 1)), sounds(pcg.S1, 610), 60 * ms, want{1, 0, 0, 0}},
		{"one nanosecond beyond", fromIntervals(beats(500*ms, 1)), shifted(sounds(pcg.S1, 610), 1), 60 * ms, want{0, 1, 1, 0}},
		{"no tolerance, equal", fromIntervals(beats(500*ms, 1)), sounds(pcg.S1, 550), 0, want{1, 0, 0, 0}},
		{"no tolerance, a nanosecond off", fromIntervals(beats(500*ms, 1)), shifted(sounds(pcg.S1, 550), 1), 0, want{0, 1, 1, 0}},
		{"events of no length", fromIntervals(beats(500*ms, 1)), []pcg.Interval{{Start: 550 * ms, End: 550 * ms, State: pcg.S1}}, 60 * ms, want{1, 0, 0, 0}},
		{"other class at the same time", fromIntervals(beats(500*ms, 1)), sounds(pcg.S2, 550), 60 * ms, want{0, 0, 1, 0}},
		{"outside scored time", fromIntervals(beats(500*ms, 1)), sounds(pcg.S1, 200, 550), 60 * ms, want{1, 0, 0, 1}},
		{"outside scored time, yet paired", fromIntervals(beats(500*ms, 1)), sounds(pcg.S1, 495), 60 * ms, want{1, 0, 0, 0}},
		{"at the end of scored time", annotated(filled), sounds(pcg.S1, 3000), 60 * ms, want{0, 0, 0, 1}},
		{"at the start of scored time", annotated(filled), sounds(pcg.S1, 100), 60 * ms, want{0, 1, 0, 0}},
		{"in a gap of 30 ms", annotated(filled, pcg.Interval{Start: 3030 * ms, End: 4000 * ms, State: pcg.Systole}), sounds(pcg.S1, 3015), 60 * ms, want{0, 1, 0, 0}},
		{"in a gap of more", annotated(filled, pcg.Interval{Start: 3030*ms + 1, End: 4000 * ms, State: pcg.Systole}), sounds(pcg.S1, 3015), 60 * ms, want{0, 0, 0, 1}},
		{"cut by the start, missed", annotated(pcg.Interval{Start: 0, End: 60 * ms, State: pcg.S1}, filled), nil, 60 * ms, want{}},
		{"cut by the start, found", annotated(pcg.Interval{Start: 0, End: 60 * ms, State: pcg.S1}, filled), sounds(pcg.S1, 50), 60 * ms, want{}},
		{"cut by the end, missed", annotated(pcg.Interval{Start: 4950 * ms, End: 5000 * ms, State: pcg.S1}), nil, 60 * ms, want{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := mustScore(t, rules, Case{Recording: "a", Reference: tt.reference, Predicted: tt.predicted, Length: 5 * time.Second})
			n := at(t, r, S1, Centre, tt.tolerance)
			if got := (want{n.TP, n.FP, n.FN, n.Ignored}); got != tt.want {
				t.Errorf("TP, FP, FN, ignored are %v, want %v", got, tt.want)
			}
		})
	}
}

func TestScoredTimeOfPointsIsWidenedByTheTolerance(t *testing.T) {
	reference := pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{
		{At: time.Second, Sound: pcg.S1}, {At: 1300 * ms, Sound: pcg.S2}, {At: 1800 * ms, Sound: pcg.S1},
	}}
	// 60 ms beyond the last point is scored time at 60 ms and not at 50 ms; the
	// two predictions there compete for the point.
	r := mustScore(t, DefaultRules(), Case{Recording: "a", Reference: reference, Predicted: sounds(pcg.S1, 1000, 1800, 1860), Length: 3 * time.Second})
	for _, tt := range []struct {
		tolerance   time.Duration
		fp, ignored int
	}{{50 * ms, 0, 1}, {60 * ms, 1, 0}} {
		n := at(t, r, S1, Centre, tt.tolerance)
		if n.TP != 2 || n.FN != 0 || n.FP != tt.fp || n.Ignored != tt.ignored {
			t.Errorf("at %v: %+v, want FP %d, ignored %d", tt.tolerance, n, tt.fp, tt.ignored)
		}
	}
	for _, n := range r.Counts {
		if n.Anchor != Centre {
			t.Fatalf("a reference of points has counts at the %v", n.Anchor)
		}
	}
}

func TestWithoutOutputAllEventsAreMissed(t *testing.T) {
	r := mustScore(t, DefaultRules(), Case{Recording: "a", Reference: fromIntervals(beats(500*ms, 3)), Predicted: beats(500*ms, 3), Failed: true, Reason: "too short"})
	if n := at(t, r, S1, Centre, 60*ms); r.Status != Failed || n.TP != 0 || n.FN != 3 || n.FP != 0 {
		t.Errorf("%v: %+v, want failed with 3 FN", r.Status, n)
	}
	r = mustScore(t, DefaultRules(), Case{Recording: "a", Predicted: beats(500*ms, 3)})
	if r.Status != Excluded || r.Reason != NoReference || r.Counts != nil {
		t.Errorf("without reference: %v, %q, %v", r.Status, r.Reason, r.Counts)
	}
}

func TestExchangedSounds(t *testing.T) {
	reference := beats(500*ms, 6)
	swapped := make([]pcg.Interval, len(reference))
	for i, iv := range reference {
		swapped[i] = pcg.Interval{Start: iv.Start, End: iv.End, State: iv.State.Exchanged()}
	}
	c := Case{Recording: "a", Reference: fromIntervals(reference), Predicted: swapped, Length: 10 * time.Second}
	m := mustScore(t, DefaultRules(), c).Measures
	if m.Pairs != 0 || m.PairsAnyClass != 12 || !m.Exchanged {
		t.Errorf("exchanged: %d pairs, %d regardless of class, flagged %v; want 0, 12, true", m.Pairs, m.PairsAnyClass, m.Exchanged)
	}
	c.Predicted = reference
	m = mustScore(t, DefaultRules(), c).Measures
	if m.Pairs != 12 || m.PairsAnyClass != 12 || m.Exchanged {
		t.Errorf("right: %d pairs, %d regardless of class, flagged %v; want 12, 12, false", m.Pairs, m.PairsAnyClass, m.Exchanged)
	}
}

func TestMeasuresOfShiftedBeats(t *testing.T) {
	reference := beats(500*ms, 6)
	predicted := shifted(reference, 10*ms)
	predicted[4].Start, predicted[3].End = predicted[4].Start+5*ms, predicted[4].Start+5*ms // one late onset
	r := mustScore(t, DefaultRules(), Case{Recording: "a", Reference: fromIntervals(reference), Predicted: predicted, Length: 10 * time.Second})
	want := Beat{CycleLength: 800 * ms, Systole: 300 * ms}
	if r.Measures.Reference != want || r.Measures.Predicted != want {
		t.Errorf("beats %+v and %+v, want %+v", r.Measures.Reference, r.Measures.Predicted, want)
	}
	if r.Measures.Cycles != 5 || r.Measures.CyclesRight != 5 {
		t.Errorf("%d of %d cycles right, want 5 of 5", r.Measures.CyclesRight, r.Measures.Cycles)
	}
	// 24 boundaries lie 10 ms late, of which one 15; the first reference 10 ms
	// have no prediction.
	total := 6 * 800 * ms
	if wrong := total - r.Frames.Right(); r.Frames.Total() != total || wrong != 24*10*ms+5*ms {
		t.Errorf("%v of %v are wrong, want 245 ms of 4.8 s", wrong, r.Frames.Total())
	}
	late := 0
	for _, m := range r.Matches {
		if m.Source != FromReference || !m.HasOnset {
			continue
		}
		switch m.OnsetDelta {
		case 15 * ms:
			late++
		case 10 * ms:
		default:
			t.Errorf("onset of %v at %v differs by %v", m.Class, m.Anchor, m.OnsetDelta)
		}
	}
	if late != 1 {
		t.Errorf("%d late onsets, want 1", late)
	}
}

func TestAMissedSoundSpoilsTheCyclesThatHoldIt(t *testing.T) {
	reference := beats(500*ms, 6)
	var predicted []pcg.Interval
	for i, iv := range reference {
		if i != 8 { // the third S1 ends cycle 2 and starts cycle 3
			predicted = append(predicted, iv)
		}
	}
	m := mustScore(t, DefaultRules(), Case{Recording: "a", Reference: fromIntervals(reference), Predicted: predicted, Length: 10 * time.Second}).Measures
	if m.Cycles != 5 || m.CyclesRight != 3 {
		t.Errorf("%d of %d cycles right, want 3 of 5", m.CyclesRight, m.Cycles)
	}
}

func TestDoubledAndMerged(t *testing.T) {
	r := mustScore(t, DefaultRules(), Case{
		Recording: "a", Reference: fromIntervals(append(beats(500*ms, 1), sounds(pcg.S2, 1400, 1480)...)),
		Predicted: append(sounds(pcg.S1, 540, 570), sounds(pcg.S2, 1440)...), Length: 5 * time.Second,
	})
	if r.Measures.Doubled != [2]int{1, 0} || r.Measures.Merged != [2]int{0, 1} {
		t.Errorf("doubled %v, merged %v; want S1 doubled, S2 merged", r.Measures.Doubled, r.Measures.Merged)
	}
}

// randomCase makes an untidy recording.
func randomCase(random *rand.Rand) Case {
	reference := beats(time.Duration(random.IntN(900))*ms, 3+random.IntN(8))
	reference = reference[random.IntN(4):]
	predicted := shifted(reference, time.Duration(random.IntN(160)-80)*ms)
	for range random.IntN(4) {
		i := random.IntN(len(predicted))
		predicted = append(predicted[:i:i], predicted[i+1:]...)
	}
	if random.IntN(4) == 0 {
		for i := range predicted {
			predicted[i].State = predicted[i].State.Exchanged()
		}
	}
	return Case{Recording: "a", Person: "p", Reference: fromIntervals(reference), Predicted: predicted, Length: 12 * time.Second}
}

// Every reference event that is not cut is TP or FN at any tolerance, and the
// rows of the headline say what its counts say.
func TestCountsAddUp(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	rules := DefaultRules()
	s, err := NewScorer(rules)
	if err != nil {
		t.Fatal(err)
	}
	for range 300 {
		c := randomCase(random)
		r := s.Score(&c)
		var rows [classes]Count
		for _, m := range r.Matches {
			n := &rows[m.Class]
			switch {
			case m.Source == FromReference && m.Outcome == TruePositive:
				n.TP++
			case m.Outcome == FalseNegative:
				n.FN++
			case m.Outcome == FalsePositive:
				n.FP++
			case m.Outcome == Ignored:
				n.Ignored++
			}
		}
		for _, n := range r.Counts {
			w := rows[n.Class]
			if n.TP+n.FN != w.TP+w.FN {
				t.Fatalf("%+v: TP+FN is not the %d events of the rows", n, w.TP+w.FN)
			}
			if n.Anchor != rules.Anchor || n.Tolerance != rules.Headline {
				continue
			}
			if n.TP != w.TP || n.FP != w.FP || n.FN != w.FN || n.Ignored != w.Ignored {
				t.Fatalf("counts %+v, rows %+v", n, w)
			}
		}
	}
}

func TestScoreAllocatesOnlyItsResult(t *testing.T) {
	c := randomCase(rand.New(rand.NewPCG(9, 10)))
	s, err := NewScorer(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	s.Score(&c)
	if n := testing.AllocsPerRun(100, func() { s.Score(&c) }); n > 2 {
		t.Errorf("%v allocations, want 2: counts and matches", n)
	}
}

func BenchmarkScore(b *testing.B) {
	c := Case{Recording: "a", Reference: fromIntervals(beats(500*ms, 25)), Predicted: shifted(beats(500*ms, 25), 20*ms), Length: 25 * time.Second}
	s, err := NewScorer(DefaultRules())
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		s.Score(&c)
	}
}
