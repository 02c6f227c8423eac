package eval

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// cyclesOf lays cycles with given times from S1 to S2 and from S2 to S1, between the
// centres of sounds that last sound.
func cyclesOf(n int, systole, diastole, sound time.Duration) []pcg.Interval {
	var list []pcg.Interval
	at := 500 * ms
	for range n {
		for i, length := range []time.Duration{sound, systole - sound, sound, diastole - sound} {
			list = append(list, pcg.Interval{Start: at, End: at + length, State: pcg.Cycle[i]})
			at += length
		}
	}
	return list
}

// Limits are inclusive: what lies exactly at one is not listed.
func TestAuditLimits(t *testing.T) {
	for _, tt := range []struct {
		systole, diastole, sound int
		want                     []string
	}{
		{300, 500, 100, nil},
		{300, 500, 20, nil},
		{300, 500, 19, []string{"sound of 19 ms at 0.500 s"}},
		{320, 700, 300, nil},
		{320, 700, 301, []string{"sound of 301 ms at 0.500 s"}},
		{100, 500, 50, nil},
		{99, 500, 50, []string{"99 ms from S1 to S2 at 0.525 s"}},
		{500, 700, 80, nil},
		{501, 700, 80, []string{"501 ms from S1 to S2 at 0.540 s"}},
		{400, 1100, 80, nil}, // 40 a minute
		{400, 1101, 80, []string{"heart rate 40 beats per minute"}}, // less
		{130, 142, 50, []string{"heart rate 221 beats per minute"}}, // more than 220
		{130, 145, 50, nil}, // 218 a minute
		{450, 420, 80, []string{"S1 to S2 takes 450 ms and S2 to S1"}}, // expected 331 at 69 a minute
	} {
		a := mustAudit(t)
		a.Add(Case{Recording: "r", Reference: fromIntervals(cyclesOf(6, time.Duration(tt.systole)*ms, time.Duration(tt.diastole)*ms, time.Duration(tt.sound)*ms)), Length: 20 * time.Second}, nil)
		audit := a.Audit()
		ok := len(audit.Findings) == len(tt.want)
		for i := range min(len(tt.want), len(audit.Findings)) {
			ok = ok && strings.HasPrefix(audit.Findings[i].Evidence, tt.want[i])
		}
		if !ok {
			t.Errorf("%d and %d ms, sounds of %d ms: %+v, want %q", tt.systole, tt.diastole, tt.sound, audit.Findings, tt.want)
		}
	}
}

// QS2 = 546 − 2.1 HR and 480 − 1.4 HR, the longer one, less 70 ms.
func TestExpectedSystole(t *testing.T) {
	for rate, want := range map[float64]time.Duration{60: 350 * ms, 90: 287 * ms, 100: 270 * ms, 150: 200 * ms} {
		if got := ExpectedSystole(rate); (got - want).Abs() > time.Microsecond {
			t.Errorf("at %v a minute %v are expected, want %v", rate, got, want)
		}
	}
	// At 75 a minute 318.5 ms are expected. Listed is what exceeds them by more than
	// 40 ms and is longer than diastole.
	for systole, want := range map[time.Duration]bool{400 * ms: false, 401 * ms: true, 358 * ms: false} {
		f := finder{}
		f.rate(Beat{CycleLength: 800 * ms, Systole: systole})
		if (len(f.findings) == 1) != want {
			t.Errorf("systole of %v in 800 ms: %+v", systole, f.findings)
		}
	}
	// At 120 a minute 242 ms are expected, and half a cycle is 250 ms.
	for systole, want := range map[time.Duration]bool{281 * ms: false, 283 * ms: true} {
		f := finder{}
		f.rate(Beat{CycleLength: 500 * ms, Systole: systole})
		if (len(f.findings) == 1) != want {
			t.Errorf("systole of %v in 500 ms: %+v", systole, f.findings)
		}
	}
	f := finder{}
	if f.rate(Beat{}); len(f.findings) > 0 {
		t.Errorf("of no cycle: %+v", f.findings)
	}
}

// Listed is a share of systole above one half, by 0.06 or more above the typical one
// of the other recordings, and nearer to its mirror image.
func TestAgainstSites(t *testing.T) {
	for _, tt := range []struct {
		share  Ratio
		others []float64
		want   bool
	}{
		{0.6, []float64{0.4}, true}, {0.6, nil, false}, {null(), []float64{0.4}, false},
		{0.55, []float64{0.45, 0.2, 0.46}, true},
		{0.5, []float64{0.4}, false},             // not above one half
		{0.53125, []float64{0.46875}, true},      // 0.0625 apart
		{0.53, []float64{0.471}, false},          // 0.059 apart
		{0.59, []float64{0.53}, false},           // not mirrored
		{0.75, []float64{0.4}, true},             // mirror 0.25 is 0.15 off, of 0.35
		{0.9, []float64{0.4}, false},             // mirror 0.1 is 0.3 off, of 0.5
		{0.4, []float64{0.6, 0.6}, false},        // the other way round
		{0.6, []float64{0.4, 0.61, 0.62}, false}, // the median counts
	} {
		f := finder{systole: tt.share}
		f.againstSites(slices.Clone(tt.others))
		if got := len(f.findings) == 1; got != tt.want {
			t.Errorf("%v against %v: listed %v", tt.share, tt.others, got)
		}
	}
	f := finder{systole: 0.6}
	if f.againstSites([]float64{0.4, 0.42}); f.findings[0].Evidence != "S1 to S2 takes 60 % of the cycle; in 2 other recordings of the person it takes 41 %" {
		t.Errorf("evidence %q", f.findings[0].Evidence)
	}
}

// withErrors returns six whole beats of which k sounds are gone: F1 against all is
// 2(12 − k)/(24 − k).
func withErrors(list []pcg.Interval, k int) []pcg.Interval {
	var left []pcg.Interval
	for i, iv := range list {
		if !iv.State.IsSound() || i/2 >= k {
			left = append(left, iv)
		}
	}
	return left
}

// by is the prediction of one method.
func by(intervals []pcg.Interval) Prediction {
	return Prediction{Intervals: intervals}
}

func TestAuditAgainstMethodsByAgreement(t *testing.T) {
	reference := beats(500*ms, 6)
	exchanged := (&Prediction{Intervals: reference}).exchanged().Intervals
	late := shifted(reference, 150*ms)
	for _, tt := range []struct {
		name        string
		predictions []Prediction
		want        string
	}{
		{"exchanged", []Prediction{by(exchanged), by(exchanged)}, "exchanged, by all methods: 2 methods agree with the reference if S1 and S2 are exchanged in it: F1 is 100.0 % or more, and at most 0.0 % as it is"},
		{"exchanged, two missed", []Prediction{by(exchanged), by(withErrors(exchanged, 2))}, "exchanged, by all methods: 2 methods agree with the reference if S1 and S2 are exchanged in it: F1 is 90.9 % or more, and at most 0.0 % as it is"},
		{"exchanged, three missed", []Prediction{by(exchanged), by(withErrors(exchanged, 3))}, ""},
		{"other times", []Prediction{by(late), by(withErrors(late, 2))}, "against all methods: 2 methods agree with each other (F1 90.9 % or more) and not with the reference (F1 at most 0.0 %)"},
		{"other times, three missed", []Prediction{by(late), by(withErrors(late, 3))}, ""},
		{"the reference found half", []Prediction{by(withErrors(reference, 6)), by(withErrors(reference, 6))}, "against all methods: 2 methods agree with each other (F1 100.0 % or more) and not with the reference (F1 at most 66.7 %)"},
		{"the reference found", []Prediction{by(withErrors(reference, 5)), by(withErrors(reference, 5))}, ""},
		{"two of three agree", []Prediction{by(late), by(shifted(reference, -150*ms)), by(late)}, ""},
	} {
		a := mustAudit(t)
		a.Add(Case{Recording: "r", Reference: fromIntervals(reference), Length: 10 * time.Second}, tt.predictions)
		got := ""
		for _, f := range a.Audit().Findings {
			got += fmt.Sprintf("%v: %s", f.Reason, f.Evidence)
		}
		if got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
	// Of points only the sounds between them count.
	points := pcg.Reference{Kind: pcg.PointReference}
	for _, iv := range reference {
		if iv.State.IsSound() {
			points.Points = append(points.Points, pcg.Point{At: iv.Centre(), Sound: iv.State})
		}
	}
	a := mustAudit(t)
	longer := append(slices.Clone(exchanged), shifted(exchanged, 10*time.Second)...)
	a.Add(Case{Recording: "r", Reference: points, Length: 30 * time.Second}, []Prediction{by(longer), by(exchanged)})
	if audit := a.Audit(); audit.ByReason["exchanged, by all methods"] != 1 {
		t.Errorf("points: %+v", audit.Findings)
	}
}

// Recordings are counted once for each reason, findings are listed by how serious
// they are, and a reference that cannot be used is listed with what the case says.
func TestAuditListsAllReasons(t *testing.T) {
	a := mustAudit(t)
	broken := beats(500*ms, 6)
	broken[5].State, broken[9].State = pcg.Diastole, pcg.Diastole // order
	broken[7].End -= 40 * ms                                      // gap
	broken[22].End, broken[23].Start = broken[22].Start+10*ms, broken[22].Start+10*ms
	broken[18].End, broken[19].Start = broken[18].Start+10*ms, broken[18].Start+10*ms
	for _, c := range []Case{
		{Recording: "broken", Person: "p", Reference: fromIntervals(broken), Length: 10 * time.Second},
		{Recording: "right", Person: "p", Reference: fromIntervals(beats(500*ms, 6)), Length: 10 * time.Second},
		{Recording: "unusable", Person: "q", Reason: "two tables"},
		{Recording: "absent", Person: "q", Reason: NoReference},
		{Recording: "silent", Person: "q"},
		{Recording: "failed", Person: "q", Reason: "no audio", Failed: true},
	} {
		a.Add(c, nil)
	}
	audit := a.Audit()
	if audit.Recordings != 3 || audit.Flagged != 2 {
		t.Errorf("%d of %d listed, want 2 of 3", audit.Flagged, audit.Recordings)
	}
	var b bytes.Buffer
	if err := audit.WriteList(&b); err != nil {
		t.Fatal(err)
	}
	want := `References that deserve a second look: 2 of 3

out of range: 1 recording
  broken       sound of 10 ms at 4.000 s, and 1 more

broken order: 1 recording
  broken       diastole follows S1 at 1.400 s, and 3 more

gaps: 1 recording
  broken       no annotation for 40 ms at 2.060 s

unusable: 1 recording
  unusable     two tables

`
	if got := b.String(); !strings.HasPrefix(got, want) {
		t.Errorf("text\n%s\nwant\n%s", got, want)
	}
}

// The short text has the first five findings of a reason and counts the others.
func TestAuditTextIsBounded(t *testing.T) {
	a := &Audit{Recordings: 9, Flagged: 7, ByReason: map[string]int{Gaps.String(): 7}}
	for i := range 7 {
		a.Findings = append(a.Findings, Finding{Recording: fmt.Sprint("r", i), Reason: Gaps, Count: 1 + i, Evidence: "no annotation", Place: "x.tsv:3"})
	}
	var short, long bytes.Buffer
	if err := a.WriteText(&short); err != nil {
		t.Fatal(err)
	}
	if err := a.WriteList(&long); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		short.String(): "  r3           no annotation, and 3 more (x.tsv:3)\n  r4           no annotation, and 4 more (x.tsv:3)\n  … and 2 more findings\n\n",
		long.String():  "gaps: 7 recordings\n  r0           no annotation (x.tsv:3)\n  r1           no annotation, and 1 more (x.tsv:3)\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no\n%s\nin\n%s", want, text)
		}
	}
	if strings.Contains(long.String(), "more finding") {
		t.Errorf("the list leaves findings out:\n%s", long.String())
	}
}
