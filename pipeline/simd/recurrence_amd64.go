package simd

import (
	"math"
	"slices"
)

const (
	// Distances that recurAVX2 counts at once.
	distances = 16
	// It counts in numbers of 16 bits that are added as signed ones.
	mostRecurrences = math.MaxInt16

	// Steps from the least value to the greatest, and the step that stands before
	// the first value: further from all than half of that.
	steps      = 20_000
	beforeStep = -12_000
)

// count compares x in whole steps of 16 bits, sixteen at a time, and only where
// these do not decide, in full.
func (c *Recurrence) count(x []float64, r float64) (two, three int) {
	if !vector || len(x) > mostRecurrences {
		return recurPortable(x, r)
	}
	c.padded = slices.Grow(c.padded[:0], distances+len(x))[:distances+len(x)]
	for i := range distances {
		c.padded[i] = math.NaN() // near nothing
	}
	copy(c.padded[distances:], x)
	near, possible := c.setSteps(x, r)
	for lag := 1; lag <= len(x)-3; lag += distances {
		pairs, longer := recurAVX2(&c.padded[distances], &c.steps[distances], &c.twice[0], len(x), lag, r, near, possible)
		two += pairs
		three += longer
	}
	return two, three
}

// setSteps rounds x down to whole steps. Differences of fewer steps than near are
// at most r, those of as many as possible or more are greater, and those between
// can be either. Where x or r does not allow for steps, all differences can.
func (c *Recurrence) setSteps(x []float64, r float64) (near, possible int16) {
	n := len(x)
	c.steps = slices.Grow(c.steps[:0], distances+n)[:distances+n]
	c.twice = slices.Grow(c.twice[:0], n)[:n]
	for i := range distances {
		c.steps[i] = beforeStep
	}
	low, high := Limits(x)
	perUnit := steps / (high - low)
	limit := r * perUnit // in steps
	// Sum is not finite if one of its terms is not, and perUnit is 0 for limits too
	// far apart and infinite for those that are equal or nearly so.
	finite := Sum(x)*0 == 0 && perUnit > 0 && perUnit <= math.MaxFloat64
	if !finite || !(limit >= 0 && limit < steps/2) {
		clear(c.steps[distances:])
		clear(c.twice)
		return 0, math.MaxInt16
	}
	whole := n &^ 7
	if whole > 0 {
		stepsAVX2(&c.steps[distances], &c.twice[0], &x[0], whole, low, perUnit)
	}
	for i := whole; i < n; i++ {
		step := uint32((x[i] - low) * perUnit)
		c.steps[distances+i] = int16(step)
		c.twice[i] = step<<16 | step
	}
	// A difference of d steps is one of more than d − 1 and of less than d + 1, but
	// for rounding, of less than 1e-10 of a step.
	const rounding = 1e-6
	return max(int16(math.Floor(limit-rounding)), 0), int16(math.Ceil(limit + 1 + rounding))
}

// stepsAVX2 writes (x − low)·perUnit, rounded down, of n values, a multiple of
// eight; to twice in both halves of a word.
//
//go:noescape
func stepsAVX2(steps *int16, twice *uint32, x *float64, n int, low, perUnit float64)

// recurAVX2 counts the pairs of sixteen distances from lag, at most n − 3, on. It
// reads fifteen values before x and steps, of which those before x must be NaN.
//
//go:noescape
func recurAVX2(x *float64, steps *int16, twice *uint32, n, lag int, r float64, near, possible int16) (two, three int)
