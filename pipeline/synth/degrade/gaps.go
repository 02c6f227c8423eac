package degrade

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// Bounds of the length of a gap.
const (
	minGap = time.Millisecond
	maxGap = time.Hour
)

var gapsKind = kind{key: "gaps", more: "gap-length", example: "gaps=0.05,gap-length=200ms", make: func(value, more string) (change, error) {
	s, err := share("gaps", value)
	if err != nil {
		return nil, err
	}
	l, err := length("gap-length", more, minGap, maxGap)
	return gaps{s, l}, err
}}

// gaps sets stretches of a recording to zero.
type gaps struct {
	share  float64 // of the samples
	length time.Duration
}

func (g gaps) String() string {
	return "gaps=" + shortest(g.share) + ",gap-length=" + g.length.String()
}

// apply draws, for each gap, how many of the samples that are left stand before it.
func (g gaps) apply(_ *workspace, x []float64, rate int, rng *rand.Rand) ([]float64, int, error) {
	total := count(g.share, len(x))
	each := max(1, int(math.Round(g.length.Seconds()*float64(rate))))
	before := make([]int, (total+each-1)/each)
	for i := range before {
		before[i] = rng.IntN(len(x) - total + 1)
	}
	slices.Sort(before)
	shorter := 0 // the gap that is shorter than the others
	if len(before) > 0 {
		shorter = rng.IntN(len(before))
	}
	gone := 0 // samples in the gaps so far
	for i, b := range before {
		n := each
		if i == shorter {
			n = total - (len(before)-1)*each
		}
		clear(x[b+gone:][:n])
		gone += n
	}
	return x, rate, nil
}
