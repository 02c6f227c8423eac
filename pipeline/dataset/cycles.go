package dataset

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// intervalCycles returns the times from onset to onset of S1, over S1, systole,
// S2 and diastole with no gap of more than maxRepair. An S1 at the very start of
// a recording may have begun before it, so the cycle that it opens is not whole.
func intervalCycles(ref *pcg.Reference) []time.Duration {
	var cycles []time.Duration
	for c := range pcg.WholeCycles(ref.Intervals, maxRepair) {
		if c[0] > 0 {
			cycles = append(cycles, c.Length())
		}
	}
	return cycles
}

// pointCycles returns the times from one S1 to the next with an S2 between them.
func pointCycles(ref *pcg.Reference) []time.Duration {
	p := ref.Points
	var cycles []time.Duration
	for i := 0; i+2 < len(p); i++ {
		if p[i].Sound == pcg.S1 && p[i+1].Sound == pcg.S2 && p[i+2].Sound == pcg.S1 {
			cycles = append(cycles, p[i+2].At-p[i].At)
		}
	}
	return cycles
}
