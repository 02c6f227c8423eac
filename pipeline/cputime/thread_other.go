//go:build !linux

package cputime

import "time"

// ThreadClock says what Thread measures.
const ThreadClock = Elapsed

var start = time.Now()

// Thread returns the time on the clock, in place of the processor time of a thread,
// which is measured on Linux only.
func Thread() time.Duration { return time.Since(start) }
