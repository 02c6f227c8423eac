package pipeline

import "runtime/debug"

// pace is how soon the collector of garbage comes. By default it waits until the
// heap has grown by as much as is in use. In use is also the list of recordings,
// which makes no garbage: with a hundred thousand of them it would let that much
// more lie about. So the share is lowered as the list grows.
type pace struct {
	usual int // share in percent, negative where it never comes
	set   bool
}

const (
	bytesListed  = 400      // kept of a recording
	bytesWorking = 48 << 20 // in use beside the list, about
	leastShare   = 25       // in percent; less would keep the collector at work
)

// whileListing begins to lower the share, for the time while a data set is listed,
// when as much again is in use for a moment.
func whileListing() pace {
	p := pace{debug.SetGCPercent(-1), true}
	p.take(p.usual / 2)
	return p
}

// withList sets the pace of a run over so many recordings.
func (p pace) withList(recordings int) {
	p.take(p.usual * bytesWorking / (bytesWorking + bytesListed*recordings))
}

// take sets the share, but for users who have set a small one or none.
func (p pace) take(percent int) {
	if p.usual > leastShare {
		percent = max(percent, leastShare)
	} else {
		percent = p.usual
	}
	debug.SetGCPercent(percent)
}

// end restores the usual pace.
func (p *pace) end() {
	if p.set {
		debug.SetGCPercent(p.usual)
		p.set = false
	}
}
