package pcg

import (
	"slices"
	"testing"
	"time"
)

func TestWholeCycles(t *testing.T) {
	// spans returns intervals that follow each other, of ten units each.
	spans := func(start time.Duration, states ...State) (list []Interval) {
		for i, s := range states {
			at := start + 10*time.Duration(i)
			list = append(list, Interval{Start: at, End: at + 10, State: s})
		}
		return list
	}
	const a, b, c, d = S1, Systole, S2, Diastole
	gap := spans(10, a, b, c, d, a)
	for i := range gap[3:] {
		gap[3+i].Start, gap[3+i].End = gap[3+i].Start+5, gap[3+i].End+5
	}
	for _, tt := range []struct {
		name string
		in   []Interval
		gap  time.Duration
		want []CycleTimes
	}{
		{"none", nil, 0, nil},
		{"one", spans(10, a, b, c, d, a), 0, []CycleTimes{{10, 20, 30, 40, 50}}},
		{"two", spans(10, a, b, c, d, a, b, c, d, a), 0, []CycleTimes{{10, 20, 30, 40, 50}, {50, 60, 70, 80, 90}}},
		{"within a diastole", spans(10, d, a, b, c, d, a, b), 0, []CycleTimes{{20, 30, 40, 50, 60}}},
		{"at the start", spans(0, a, b, c, d, a), 0, []CycleTimes{{0, 10, 20, 30, 40}}},
		{"diastole cut by the end", spans(10, a, b, c, d), 0, nil},
		{"a gap as long as allowed", gap, 5, []CycleTimes{{10, 20, 30, 45, 55}}},
		{"a longer gap", gap, 4, nil},
		{"broken order", spans(10, a, b, c, b, a), 0, nil},
		{"unannotated within", spans(10, a, b, Unannotated, d, a), 0, nil},
	} {
		got := slices.Collect(WholeCycles(tt.in, tt.gap))
		if !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
		for _, c := range got {
			var sum time.Duration
			for k := range Cycle {
				sum += c.StateLength(k)
			}
			if sum != c.Length() {
				t.Errorf("%s: the states last %v, the cycle %v", tt.name, sum, c.Length())
			}
		}
	}
	for range WholeCycles(spans(10, a, b, c, d, a, b, c, d, a), 0) {
		break // the sequence must stop when asked to
	}
}
