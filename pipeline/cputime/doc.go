// Package cputime tells how much processor time was spent, which does not depend on
// what else a machine does. Differences between two calls count.
package cputime

// What Thread can measure.
const (
	Processor = "processor"
	Elapsed   = "elapsed"
)
