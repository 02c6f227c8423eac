package program

import (
	"fmt"
	"time"

	"phonocycle/pipeline/pcg"
)

// slack is how much neighbouring times of an answer may differ that mean the same one,
// and how far an answer may reach beyond the recording: a sample at the analysis rate.
const slack = time.Millisecond

// tile makes the intervals of an answer a segmentation of a recording of that length.
// Where all of them are sounds, what lies between is silence. Else they must follow
// each other in the order of the cycle. At both ends the silence goes on up to the
// end of the recording: no sound is added. Errors call the intervals what they were
// made from, and count them from 1.
func tile(given []pcg.Interval, length time.Duration, what string) ([]pcg.Interval, error) {
	next := pcg.State.Next
	if soundsAlone(given) {
		next = func(s pcg.State) pcg.State { return s.Next().Next() }
	}
	tiled := make([]pcg.Interval, 0, 2*len(given)+1)
	for i, iv := range given {
		if i == 0 {
			tiled = begin(tiled, iv)
			continue
		}
		last := &tiled[len(tiled)-1]
		gap := iv.Start - last.End
		switch {
		case gap < -slack:
			return nil, fmt.Errorf("%s %d: %v begins before %v ends", what, i+1, iv, *last)
		case iv.State != next(last.State):
			return nil, fmt.Errorf("%s %d: %v follows %v: want %v", what, i+1, iv.State, last.State, next(last.State))
		case next(last.State) != last.State.Next(): // the silence between two sounds
			if gap <= slack {
				return nil, fmt.Errorf("%s %d: no time is left for %v between %v and %v", what, i+1, last.State.Next(), *last, iv)
			}
			tiled = append(tiled, pcg.Interval{Start: last.End, End: iv.Start, State: last.State.Next()})
		case gap > slack:
			return nil, fmt.Errorf("%s %d: nothing is said about %.3f s between %v and %v", what, i+1, gap.Seconds(), *last, iv)
		case iv.End <= last.End:
			return nil, fmt.Errorf("%s %d: %v is no longer than its overlap with %v", what, i+1, iv, *last)
		default:
			iv.Start = last.End
		}
		tiled = append(tiled, iv)
	}
	return finish(tiled, length), nil
}

func soundsAlone(list []pcg.Interval) bool {
	for _, iv := range list {
		if !iv.State.IsSound() {
			return false
		}
	}
	return true
}

// begin adds the first interval of an answer, and what the recording begins with.
func begin(tiled []pcg.Interval, first pcg.Interval) []pcg.Interval {
	if first.State.IsSound() && first.Start > slack {
		tiled = append(tiled, pcg.Interval{End: first.Start, State: first.State.Next().Exchanged()})
	} else {
		first.Start = 0
	}
	return append(tiled, first)
}

// finish extends the last interval to the end of the recording, or adds the silence
// behind it.
func finish(tiled []pcg.Interval, length time.Duration) []pcg.Interval {
	last := &tiled[len(tiled)-1]
	if last.State.IsSound() && length-last.End > slack {
		return append(tiled, pcg.Interval{Start: last.End, End: length, State: last.State.Next()})
	}
	last.End = length
	return tiled
}
