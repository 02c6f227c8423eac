package synth

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// BeatKind says how a beat came about.
type BeatKind uint8

// The kinds of beats.
const (
	RegularBeat   BeatKind = iota
	PrematureBeat          // early, followed by a full compensatory pause, with a faint S2
	MissedBeat             // its time passes in silence
)

// A Beat is one cycle before it is cut to the recording: its times may lie
// before the first sample or after the last.
type Beat struct {
	Index  int // 0 for the first beat whose S1 begins within the recording, negative before it
	Kind   BeatKind
	S1, S2 pcg.Interval  // by EdgeLevel; empty at its time for a missed beat
	Next   time.Duration // the beginning of the next S1 that sounds
	Split  time.Duration // from the beginning of A2 to that of P2

	loudness1, loudness2 float64 // gains of S1 and S2 relative to the heart's
}
