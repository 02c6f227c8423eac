package cputime

import (
	"time"

	"golang.org/x/sys/unix"
)

// ThreadClock says what Thread measures.
const ThreadClock = Processor

// Thread returns the processor time of the calling thread, to which the goroutine must
// be locked.
func Thread() time.Duration {
	var t unix.Timespec
	if unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &t) != nil {
		return 0 // no kernel in use lacks this clock
	}
	return time.Duration(t.Nano())
}
