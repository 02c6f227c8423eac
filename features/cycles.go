package features

import (
	"fmt"
	"iter"
	"time"

	"phonocycle/pipeline/pcg"
)

// cycleGap is the longest gap between two states of a cycle that is measured:
// none, so that the lengths of the four states add up to that of the cycle.
const cycleGap = 0

// WholeCycles yields the cycles in sorted, disjoint intervals that are measured,
// in the order of Features.Cycles. A cycle whose S1 starts with the recording is
// left out, because nobody knows how much of that S1 is missing.
func WholeCycles(intervals []pcg.Interval) iter.Seq[pcg.CycleTimes] {
	return func(yield func(pcg.CycleTimes) bool) {
		for c := range pcg.WholeCycles(intervals, cycleGap) {
			if c[0] > 0 && !yield(c) {
				return
			}
		}
	}
}

// checkIntervals reports the first interval that is not sorted, disjoint, of
// positive length and within length.
func checkIntervals(intervals []pcg.Interval, length time.Duration) error {
	var last time.Duration
	for i, iv := range intervals {
		switch {
		case iv.End <= iv.Start:
			return fmt.Errorf("interval %d: %v has no length", i, iv)
		case iv.Start < last:
			return fmt.Errorf("interval %d: %v begins before %.3f s, where the one before ends or the recording begins", i, iv, last.Seconds())
		case iv.End > length:
			return fmt.Errorf("interval %d: %v ends after the recording, at %.3f s", i, iv, length.Seconds())
		}
		last = iv.End
	}
	return nil
}
