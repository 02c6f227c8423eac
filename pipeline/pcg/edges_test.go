package pcg

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

func TestWhichStatesAreSounds(t *testing.T) {
	for s, want := range map[State]bool{Unannotated: false, S1: true, Systole: false, S2: true, Diastole: false} {
		if s.IsSound() != want {
			t.Errorf("%v is a sound: %v", s, s.IsSound())
		}
	}
	if got := State(5).String(); got != "State(5)" {
		t.Errorf("a state beyond the last is %s", got)
	}
	if _, err := ParseState("S3"); err == nil || err.Error() != `unknown state "S3": want one of unannotated, S1, systole, S2, diastole` {
		t.Errorf("error %v", err)
	}
}

// A centre is rounded down to a nanosecond, also of times before the recording.
func TestCentreIsRoundedDown(t *testing.T) {
	for _, tt := range []struct{ start, end, want time.Duration }{{0, 3, 1}, {3, 6, 4}, {-3, 0, -2}, {4, 4, 4}, {math.MaxInt64 - 2, math.MaxInt64, math.MaxInt64 - 1}} {
		if got := (Interval{Start: tt.start, End: tt.end}).Centre(); got != tt.want {
			t.Errorf("centre of %d to %d is %d, want %d", tt.start, tt.end, got, tt.want)
		}
	}
}

func TestRoundingOfTimes(t *testing.T) {
	for _, tt := range []struct {
		n    int64
		rate int
		want time.Duration
	}{
		{3, 2_000_000_000, 2}, {1, 2_000_000_000, 1}, {-1, 2_000_000_000, -1}, {-3, 2_000_000_000, -2}, // halves away from zero
		{1, 3, 333333333}, {2, 3, 666666667}, {-2, 3, -666666667}, {4, 3, 1333333333},
	} {
		if got := FromSamples(tt.n, tt.rate); got != tt.want {
			t.Errorf("sample %d at %d Hz is at %d ns, want %d", tt.n, tt.rate, got, tt.want)
		}
	}
	for _, tt := range []struct {
		at   time.Duration
		rate int
		want int
	}{
		{500 * time.Microsecond, 1000, 1}, {499_999, 1000, 0}, {1500 * time.Microsecond, 1000, 2}, // halves upwards
		{-500 * time.Microsecond, 1000, 0}, {-500_001, 1000, -1}, {-1500 * time.Microsecond, 1000, -1}, {-2 * time.Second, 1000, -2000},
		{3*time.Second + 250*time.Millisecond, 4, 13}, {100 * time.Hour, 192000, 69_120_000_000},
	} {
		if got := ToSamples(tt.at, tt.rate); got != tt.want {
			t.Errorf("%v at %d Hz is sample %d, want %d", tt.at, tt.rate, got, tt.want)
		}
	}
	for s, want := range map[float64]time.Duration{1.5e-9: 2, 1.4e-9: 1, -1.5e-9: -2, 0.25: 250 * time.Millisecond} {
		if got := FromSeconds(s); got != want {
			t.Errorf("%v s are %d ns, want %d", s, got, want)
		}
	}
}

// Check names the first fault and where it is; limits are inclusive.
func TestSegmentationCheckSays(t *testing.T) {
	const ms = time.Millisecond
	for _, tt := range []struct {
		change func(*Segmentation)
		want   string
	}{
		{func(*Segmentation) {}, ""},
		{func(s *Segmentation) { s.Confidence, s.ExchangeProbability = 0, 0 }, ""},
		{func(s *Segmentation) { s.Confidence, s.ExchangeProbability = 1, 1 }, ""},
		{func(s *Segmentation) { s.ExchangeProbability = math.NaN() }, ""},
		{func(s *Segmentation) { s.CycleLength = time.Second }, ""},
		{func(s *Segmentation) { s.Intervals = s.Intervals[:0] }, "segmentation is empty"},
		{func(s *Segmentation) { s.Intervals[0].Start = 1 }, "segmentation begins at 1ns, not with the recording"},
		{func(s *Segmentation) { s.Intervals[0].State = Unannotated }, "interval 0: unannotated is not a state of the cycle"},
		{func(s *Segmentation) { s.Intervals[1].State = 5 }, "interval 1: State(5) is not a state of the cycle"},
		{func(s *Segmentation) { s.Intervals[1].End = s.Intervals[1].Start }, "interval 1: S1 [0.100 s, 0.100 s) has no length"},
		{func(s *Segmentation) { s.Intervals[1].Start++ }, "interval 1: starts at 100.000001ms where the one before ends at 100ms"},
		{func(s *Segmentation) { s.Intervals[1].State = S2 }, "interval 1: S2 follows diastole"},
		{func(s *Segmentation) { s.Intervals[2].End++ }, "segmentation ends at 400.000001ms, the recording at 400ms"},
		{func(s *Segmentation) { s.Confidence = -0.1 }, "confidence -0.1 is not in [0, 1]"},
		{func(s *Segmentation) { s.Confidence = 1.1 }, "confidence 1.1 is not in [0, 1]"},
		{func(s *Segmentation) { s.Confidence = math.NaN() }, ""},
		{func(s *Segmentation) { s.ExchangeProbability = -0.1 }, "probability of an exchange -0.1 is not in [0, 1]"},
		{func(s *Segmentation) { s.ExchangeProbability = 1.1 }, "probability of an exchange 1.1 is not in [0, 1]"},
		{func(s *Segmentation) { s.CycleLength = -1 }, "cycle length -1ns is negative"},
		{func(s *Segmentation) { s.Points = []Point{{0, S1}} }, "segmentation has both points and intervals"},
		{func(s *Segmentation) { s.Intervals, s.Points = nil, []Point{{0, S1}, {1, S1}, {400 * ms, S2}} }, ""},
		{func(s *Segmentation) { s.Intervals, s.Points = nil, []Point{{-1, S1}} }, "point 0: at -1ns, outside the recording of 400ms"},
		{func(s *Segmentation) { s.Intervals, s.Points = nil, []Point{{0, S1}, {400*ms + 1, S2}} }, "point 1: at 400.000001ms, outside the recording of 400ms"},
		{func(s *Segmentation) { s.Intervals, s.Points = nil, []Point{{1, S1}, {1, S2}} }, "point 1: at 1ns, not after the one before at 1ns"},
		{func(s *Segmentation) { s.Intervals, s.Points = nil, []Point{{0, Systole}} }, "point 0: systole is no sound"},
		{func(s *Segmentation) { s.Intervals, s.Points, s.Confidence = nil, []Point{{0, S1}}, 2 }, "confidence 2 is not in [0, 1]"},
	} {
		s := Segmentation{Confidence: 0.5, ExchangeProbability: 0.5, Intervals: []Interval{{0, 100 * ms, Diastole}, {100 * ms, 200 * ms, S1}, {200 * ms, 400 * ms, Systole}}}
		tt.change(&s)
		got := ""
		if err := s.Check(400 * ms); err != nil {
			got = err.Error()
		}
		if got != tt.want {
			t.Errorf("Check says %q, want %q", got, tt.want)
		}
	}
}

func TestLabelsAreEqual(t *testing.T) {
	names := []string{"sex", "age"}
	a := MakeLabels(names, []string{"f", "3"})
	for _, tt := range []struct {
		b    Labels
		want bool
	}{
		{MakeLabels([]string{"sex", "age"}, []string{"f", "3"}), true},
		{MakeLabels(names, []string{"f", "4"}), false},
		{MakeLabels([]string{"sex", "height"}, []string{"f", "3"}), false},
		{MakeLabels(names, []string{"f3", ""}), false},
		{Labels{}, false},
	} {
		if a.Equal(tt.b) != tt.want {
			t.Errorf("%v equals %v: %v", a, tt.b, a.Equal(tt.b))
		}
	}
	if got := a.String(); got != "sex=f age=3" {
		t.Errorf("labels print as %q", got)
	}
	for l := range a.All() {
		if l.Name != "sex" {
			t.Error("the sequence goes on after it was stopped")
		}
		break
	}
}

func TestEmptyReference(t *testing.T) {
	for _, tt := range []struct {
		r    Reference
		want bool
	}{
		{Reference{}, true}, {Reference{Kind: PointReference, Repairs: []string{"all rows dropped"}}, true},
		{Reference{Points: []Point{{}}}, false}, {Reference{Intervals: []Interval{{}}}, false}, {Reference{Points: []Point{{}}, Intervals: []Interval{{}}}, false},
	} {
		if tt.r.Empty() != tt.want {
			t.Errorf("%+v is empty: %v", tt.r, tt.r.Empty())
		}
	}
}

// Whole cycles are yielded one by one until the caller stops.
func TestWholeCyclesStop(t *testing.T) {
	var list []Interval
	for i := range 13 {
		at := time.Duration(i) * time.Second
		list = append(list, Interval{Start: at, End: at + time.Second, State: Cycle[i%4]})
	}
	var got []string
	for c := range WholeCycles(list, 0) {
		got = append(got, fmt.Sprintf("%v to %v, %v, %v", c[0], c[4], c.Length(), c.StateLength(3)))
		if len(got) == 2 {
			break
		}
	}
	if s := strings.Join(got, "; "); s != "0s to 4s, 4s, 1s; 4s to 8s, 4s, 1s" {
		t.Errorf("cycles %s", s)
	}
}
