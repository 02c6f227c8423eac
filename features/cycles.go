package features

import (
	"fmt"
	"time"

	"phonocycle/pipeline/pcg"
)

// bounds are the five times that divide a cycle: start and end of S1, start
// and end of S2, start of the next S1.
type bounds [5]time.Duration

// WholeCycles returns start and end of the cycles in sorted intervals that are
// measured, in the order of Features.Cycles.
func WholeCycles(intervals []pcg.Interval) [][2]time.Duration {
	var cycles [][2]time.Duration
	for _, b := range wholeCycles(nil, intervals) {
		cycles = append(cycles, [2]time.Duration{b[0], b[4]})
	}
	return cycles
}

// wholeCycles appends to dst the cycles in intervals that are whole: S1,
// systole, S2 and diastole, each beginning where the one before ends, followed
// by another S1. A cycle whose S1 begins with the recording is left out,
// because nobody knows how much of that S1 is missing; a diastole that the end
// of the recording or of the annotation cuts has no S1 after it.
func wholeCycles(dst []bounds, intervals []pcg.Interval) []bounds {
	for i := 0; i+4 < len(intervals); i++ {
		if b, ok := cycleAt(intervals[i : i+5]); ok {
			dst = append(dst, b)
		}
	}
	return dst
}

// cycleAt returns the cycle that the five intervals make up.
func cycleAt(iv []pcg.Interval) (bounds, bool) {
	if iv[0].State != pcg.S1 || iv[0].Start == 0 {
		return bounds{}, false
	}
	for k := 1; k < 5; k++ {
		if iv[k].State != iv[k-1].State.Next() || iv[k].Start != iv[k-1].End {
			return bounds{}, false
		}
	}
	return bounds{iv[0].Start, iv[0].End, iv[2].Start, iv[2].End, iv[4].Start}, true
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
