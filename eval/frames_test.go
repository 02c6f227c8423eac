package eval

import (
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// An annotation of 300 ms, of which the prediction has 210 ms right, 40 ms wrong
// and misses 50 ms; twice the same makes twice the times and the same accuracy.
func TestFramesByHand(t *testing.T) {
	at := func(from, to int, s pcg.State) pcg.Interval {
		return pcg.Interval{Start: time.Duration(from) * ms, End: time.Duration(to) * ms, State: s}
	}
	var one, sum Frames
	one.compare([]pcg.Interval{at(0, 100, pcg.S1), at(100, 300, pcg.Systole)}, []pcg.Interval{at(0, 60, pcg.S1), at(60, 250, pcg.Systole)})
	sum.plus(&one)
	sum.plus(&one)
	for _, tt := range []struct {
		times int
		f     Frames
	}{{1, one}, {2, sum}} {
		n := time.Duration(tt.times) * ms
		if c := tt.f.Confusion; c[0][0] != 60*n || c[0][1] != 40*n || c[1][1] != 150*n || c[1][0] != 0 {
			t.Errorf("%d times: confusion %v", tt.times, c)
		}
		if tt.f.Missed != [4]time.Duration{1: 50 * n} {
			t.Errorf("%d times: missed %v, want 50 ms each of systole", tt.times, tt.f.Missed)
		}
		if tt.f.Right() != 210*n || tt.f.Total() != 300*n || tt.f.Accuracy() != 0.7 {
			t.Errorf("%d times: %v of %v right, accuracy %v", tt.times, tt.f.Right(), tt.f.Total(), tt.f.Accuracy())
		}
	}
}
