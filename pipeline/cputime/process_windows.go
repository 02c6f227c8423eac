package cputime

import (
	"time"

	"golang.org/x/sys/windows"
)

// Process returns the processor time of this process, without that of its children.
func Process() time.Duration {
	var created, ended, kernel, user windows.Filetime
	if windows.GetProcessTimes(windows.CurrentProcess(), &created, &ended, &kernel, &user) != nil {
		return 0
	}
	const unit = 100 * time.Nanosecond
	ticks := func(t windows.Filetime) time.Duration {
		return time.Duration(t.HighDateTime)<<32 | time.Duration(t.LowDateTime)
	}
	return unit * (ticks(kernel) + ticks(user))
}
