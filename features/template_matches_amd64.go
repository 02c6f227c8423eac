//go:build !purego

package features

import (
	"math"
	"slices"

	"golang.org/x/sys/cpu"

	"phonocycle/pipeline/simd"
)

// hasAVX2 reports whether the processor can run the assembly. The tests turn it
// off to compare.
var hasAVX2 = cpu.X86.HasAVX2

const (
	// Distances j − i that templateMatchesAVX2 counts at once.
	distances = 16
	// It counts in 16-bit numbers, which are added as signed ones.
	mostMatches = math.MaxInt16

	// Steps from the lowest value to the highest, and the step that stands before
	// the first value, which is more than half of that from all others.
	steps      = 20_000
	beforeStep = -12_000
)

// templateMatches returns what templateMatchesPortable does. It compares the values as
// 16-bit whole steps, sixteen at a time, and in full only where the steps do not decide.
func (m *templateMatcher) templateMatches(x []float64, r float64) (two, three int) {
	if !hasAVX2 || len(x) > mostMatches {
		return templateMatchesPortable(x, r)
	}
	m.padded = slices.Grow(m.padded[:0], distances+len(x))[:distances+len(x)]
	for i := range distances {
		m.padded[i] = math.NaN() // near nothing
	}
	copy(m.padded[distances:], x)
	near, possible := m.setSteps(x, r)
	for distance := 1; distance <= len(x)-3; distance += distances {
		pairs, longer := templateMatchesAVX2(&m.padded[distances], &m.steps[distances], &m.twice[0], len(x), distance, r, near, possible)
		two += pairs
		three += longer
	}
	return two, three
}

// setSteps rounds x down to whole steps. A difference of fewer steps than near is at
// most r, one of possible steps or more exceeds r, and between them the steps do not
// decide. If steps cannot represent x or r, they decide nothing.
func (m *templateMatcher) setSteps(x []float64, r float64) (near, possible int16) {
	n := len(x)
	m.steps = slices.Grow(m.steps[:0], distances+n)[:distances+n]
	m.twice = slices.Grow(m.twice[:0], n)[:n]
	for i := range distances {
		m.steps[i] = beforeStep
	}
	low, high := simd.MinMax(x)
	perUnit := steps / (high - low)
	limit := r * perUnit // in steps
	// The sum is not finite if one of its terms is not. perUnit is 0 if the range of
	// x overflows, and infinite if it is zero or nearly so.
	finite := simd.Sum(x)*0 == 0 && perUnit > 0 && perUnit <= math.MaxFloat64
	if !finite || !(limit >= 0 && limit < steps/2) {
		clear(m.steps[distances:])
		clear(m.twice)
		return 0, math.MaxInt16
	}
	whole := n &^ 7
	if whole > 0 {
		stepsAVX2(&m.steps[distances], &m.twice[0], &x[0], whole, low, perUnit)
	}
	for i := whole; i < n; i++ {
		step := uint32((x[i] - low) * perUnit)
		m.steps[distances+i] = int16(step)
		m.twice[i] = step<<16 | step
	}
	// Values d whole steps apart differ by more than d − 1 and less than d + 1
	// steps, except for rounding, which is less than 1e-10 of a step.
	const rounding = 1e-6
	return max(int16(math.Floor(limit-rounding)), 0), int16(math.Ceil(limit + 1 + rounding))
}

// stepsAVX2 writes (x − low)·perUnit, rounded down, of n values, a multiple of
// eight, to steps, and to both halves of the elements of twice.
//
//go:noescape
func stepsAVX2(steps *int16, twice *uint32, x *float64, n int, low, perUnit float64)

// templateMatchesAVX2 counts the matches at sixteen distances from distance, at most
// n − 3, on. It reads fifteen values before x and steps; those before x must be NaN.
//
//go:noescape
func templateMatchesAVX2(x *float64, steps *int16, twice *uint32, n, distance int, r float64, near, possible int16) (two, three int)
