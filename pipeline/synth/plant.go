package synth

import "phonocycle/pipeline/pcg"

// Exchange returns the intervals as a method would give them that takes the
// sounds for one another throughout: S1 for S2, systole for diastole. The order
// of the cycle still holds.
func Exchange(intervals []pcg.Interval) []pcg.Interval {
	out := make([]pcg.Interval, len(intervals))
	for i, iv := range intervals {
		iv.State = iv.State.Exchanged()
		out[i] = iv
	}
	return out
}
