package lanes

import (
	"math"
	"slices"
)

const (
	// Distances that recurAVX2 counts at once.
	distances = 16
	// It counts in numbers of 16 bits that are added as signed ones.
	mostRecurrences = math.MaxInt16
)

func (c *Recurrence) count(x []float64, r float64) (two, three int) {
	if !vector || len(x) > mostRecurrences {
		return recurPortable(x, r)
	}
	c.padded = slices.Grow(c.padded[:0], distances+len(x))[:distances+len(x)]
	for i := range distances {
		c.padded[i] = math.NaN() // near nothing
	}
	copy(c.padded[distances:], x)
	for lag := 1; lag <= len(x)-3; lag += distances {
		pairs, longer := recurAVX2(&c.padded[distances], len(x), lag, r)
		two += pairs
		three += longer
	}
	return two, three
}

// recurAVX2 counts the pairs of sixteen distances from lag, at most n − 3, on. It
// reads fifteen values before x, which must be NaN.
//
//go:noescape
func recurAVX2(x *float64, n, lag int, r float64) (two, three int)
