package corpus

import "runtime/debug"

// GCTuning sets how often the garbage collector runs while a corpus is in
// memory. By default the collector waits until the heap has grown by as much as
// is in use. The list of recordings is in use and produces no garbage: with a
// hundred thousand recordings, the default would let that much garbage pile up.
// So the percentage falls as the list grows.
type GCTuning struct {
	previous int // in percent, negative where the collector is off
	set      bool
}

const (
	bytesListed  = 400      // in memory per recording of the list
	bytesWorking = 48 << 20 // in use beside the list, about
	lowestGC     = 25       // in percent; less would keep the collector busy
)

// TuneForListing lowers the percentage while a data set is listed, when twice
// the list is in memory for a moment.
func TuneForListing() GCTuning {
	t := GCTuning{debug.SetGCPercent(-1), true}
	t.apply(t.previous / 2)
	return t
}

// ForList sets the percentage for a run over a list of recordings.
func (t GCTuning) ForList(recordings int) {
	t.apply(t.previous * bytesWorking / (bytesWorking + bytesListed*recordings))
}

// apply sets the percentage, unless the user has set a low one or none.
func (t GCTuning) apply(percent int) {
	if t.previous > lowestGC {
		percent = max(percent, lowestGC)
	} else {
		percent = t.previous
	}
	debug.SetGCPercent(percent)
}

// End restores the previous setting.
func (t *GCTuning) End() {
	if t.set {
		debug.SetGCPercent(t.previous)
		t.set = false
	}
}
