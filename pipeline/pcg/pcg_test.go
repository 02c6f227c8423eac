package pcg

import (
	"slices"
	"testing"
	"time"
)

func TestStatesFollowTheCycle(t *testing.T) {
	s := S1
	for range 3 {
		for i, want := range Cycle {
			if s != want {
				t.Fatalf("state %d of the cycle is %v, want %v", i, s, want)
			}
			s = s.Next()
		}
	}
	if Unannotated.Next() != Unannotated || Unannotated.Exchanged() != Unannotated {
		t.Error("Unannotated must have no successor and no exchanged state")
	}
}

func TestExchangedIsAnInvolutionThatKeepsTheOrder(t *testing.T) {
	want := map[State]State{S1: S2, Systole: Diastole, S2: S1, Diastole: Systole}
	for _, s := range Cycle {
		if got := s.Exchanged(); got != want[s] {
			t.Errorf("%v exchanged is %v, want %v", s, got, want[s])
		}
		if got := s.Exchanged().Exchanged(); got != s {
			t.Errorf("%v exchanged twice is %v", s, got)
		}
		if s.Exchanged().Next() != s.Next().Exchanged() {
			t.Errorf("exchanging %v does not keep the order", s)
		}
	}
}

func TestParseState(t *testing.T) {
	for s := Unannotated; s <= Diastole; s++ {
		got, err := ParseState(s.String())
		if err != nil || got != s {
			t.Errorf("ParseState(%q) = %v, %v", s.String(), got, err)
		}
	}
	if got, err := ParseState("s2"); err != nil || got != S2 {
		t.Errorf("ParseState ignores case: got %v, %v", got, err)
	}
	if _, err := ParseState("S3"); err == nil {
		t.Error("ParseState accepts S3")
	}
}

func TestFromSamples(t *testing.T) {
	tests := []struct {
		n    int64
		rate int
		want time.Duration
	}{
		{0, 4000, 0},
		{1, 4000, 250 * time.Microsecond},
		{1, 44100, 22676}, // 22675.7 ns
		{-1, 44100, -22676},
		{44100, 44100, time.Second},
		{1 << 40, 192000, time.Duration(5726623061333333)}, // no overflow on the way: 5726623.0613333… s
	}
	for _, tt := range tests {
		if got := FromSamples(tt.n, tt.rate); got != tt.want {
			t.Errorf("FromSamples(%d, %d) = %d, want %d", tt.n, tt.rate, got, tt.want)
		}
	}
}

func TestSamplesSurviveTheWayThroughTime(t *testing.T) {
	for _, rate := range []int{500, 1000, 2000, 4000, 11025, 44100, 192000} {
		for _, n := range []int{0, 1, 2, 999, 12345, 9_876_543} {
			if got := ToSamples(FromSamples(int64(n), rate), rate); got != n {
				t.Errorf("rate %d: sample %d comes back as %d", rate, n, got)
			}
		}
	}
	if got := ToSamples(-500*time.Microsecond, 1000); got != 0 {
		t.Errorf("half a sample before zero rounds to %d, want 0", got)
	}
}

func TestInterval(t *testing.T) {
	iv := Interval{740 * time.Millisecond, 861 * time.Millisecond, S1}
	if iv.Duration() != 121*time.Millisecond || iv.Centre() != 800500*time.Microsecond {
		t.Errorf("duration %v, centre %v", iv.Duration(), iv.Centre())
	}
	if !iv.Contains(iv.Start) || iv.Contains(iv.End) {
		t.Error("an interval must hold its start and not its end")
	}
	if got, want := iv.String(), "S1 [0.740 s, 0.861 s)"; got != want {
		t.Errorf("String() = %q, want %q", got, want)
	}
}

func TestSegmentationCheck(t *testing.T) {
	const ms = time.Millisecond
	whole := func() Segmentation {
		return Segmentation{Confidence: 0.5, Intervals: []Interval{
			{0, 100 * ms, Diastole}, {100 * ms, 200 * ms, S1}, {200 * ms, 400 * ms, Systole}, {400 * ms, 500 * ms, S2},
		}}
	}
	tests := []struct {
		name  string
		spoil func(*Segmentation)
		ok    bool
	}{
		{"whole", func(*Segmentation) {}, true},
		{"empty", func(s *Segmentation) { s.Intervals = nil }, false},
		{"late start", func(s *Segmentation) { s.Intervals[0].Start = ms }, false},
		{"gap", func(s *Segmentation) { s.Intervals[1].End -= ms }, false},
		{"overlap", func(s *Segmentation) { s.Intervals[1].End += ms }, false},
		{"no length", func(s *Segmentation) { s.Intervals[1].End = s.Intervals[1].Start }, false},
		{"order", func(s *Segmentation) { s.Intervals[2].State = Diastole }, false},
		{"unannotated", func(s *Segmentation) { s.Intervals[0].State = Unannotated }, false},
		{"early end", func(s *Segmentation) { s.Intervals[3].End -= ms }, false},
		{"confidence", func(s *Segmentation) { s.Confidence = 1.01 }, false},
	}
	for _, tt := range tests {
		s := whole()
		tt.spoil(&s)
		if err := s.Check(500 * ms); (err == nil) != tt.ok {
			t.Errorf("%s: Check returned %v", tt.name, err)
		}
	}
}

func TestLabels(t *testing.T) {
	names := []string{"murmur", "age", "site"}
	for _, values := range [][]string{{"Absent", "", "AV"}, {"", "", ""}, {"ü", "1", ""}} {
		l := MakeLabels(names, values)
		var got []string
		for label := range l.All() {
			if label.Name != names[len(got)] {
				t.Errorf("label %d is called %s", len(got), label.Name)
			}
			got = append(got, label.Value)
		}
		if !slices.Equal(got, values) {
			t.Errorf("%q became %q", values, got)
		}
		r := Recording{Labels: l}
		if r.Label("murmur") != values[0] || r.Label("site") != values[2] || r.Label("weight") != "" {
			t.Errorf("labels read as %q, %q, %q", r.Label("murmur"), r.Label("site"), r.Label("weight"))
		}
	}
	if got := MakeLabels(names[:1], []string{"a\x00b"}).String(); got != "murmur=ab" {
		t.Errorf("a zero byte in a value gives %q", got)
	}
	for l := range (Labels{}).All() {
		t.Errorf("no labels have %v", l)
	}
}
