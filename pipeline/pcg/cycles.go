package pcg

import (
	"iter"
	"time"
)

// CycleTimes are the five times that divide a cardiac cycle: the start of S1,
// of systole, of S2, of diastole and of the next S1.
type CycleTimes [5]time.Duration

// Length returns the time from the start of S1 to the start of the next S1.
func (c *CycleTimes) Length() time.Duration { return c[4] - c[0] }

// StateLength returns the length of the k-th state of the cycle, counted from
// S1 as 0: the time from its start to the start of the next state.
func (c *CycleTimes) StateLength(k int) time.Duration { return c[k+1] - c[k] }

// WholeCycles yields the whole cycles in sorted, disjoint intervals: five
// successive intervals S1, systole, S2, diastole and S1, each starting at most
// gap after the one before ends. The last S1 shows that no state of the cycle
// is cut by the end of the recording or of the annotation.
//
// A cycle that starts with the recording, at time 0, is yielded too. Its S1 may
// be cut: the caller decides whether that matters.
func WholeCycles(intervals []Interval, gap time.Duration) iter.Seq[CycleTimes] {
	return func(yield func(CycleTimes) bool) {
		for i := 0; i+5 <= len(intervals); i++ {
			if c, ok := cycleOf(intervals[i:i+5], gap); ok && !yield(c) {
				return
			}
		}
	}
}

// cycleOf returns the cycle that five intervals make up.
func cycleOf(five []Interval, gap time.Duration) (c CycleTimes, ok bool) {
	if five[0].State != S1 {
		return c, false
	}
	for k, iv := range five {
		if k > 0 && (iv.State != five[k-1].State.Next() || iv.Start-five[k-1].End > gap) {
			return c, false
		}
		c[k] = iv.Start
	}
	return c, true
}
