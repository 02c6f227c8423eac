package report

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Heights of the mean envelope in the middle of a pause, as fractions of its largest
// value, from which on the words of a page call the pause low and clearly visible.
// They are chosen for the eye: in a drawing 50 mm high a tenth is 5 mm.
const (
	lowPause     = 0.10
	visiblePause = 0.25
)

// words says what is measured of each state in the average cycle, so that no text of
// the page contradicts its figure.
func (a *averageCycle) words() map[string]string {
	part := func(k int) string {
		return fmt.Sprintf("%.0f ms, %.0f %% of the cycle", milliseconds(a.lengths[k]), 100*float64(a.lengths[k])/float64(a.length()))
	}
	s1, s2 := slices.Max(a.state(0)), slices.Max(a.state(2))
	longer := "longer than"
	switch systole, diastole := a.lengths[1], a.lengths[3]; {
	case diastole < systole:
		longer = "shorter than"
	case diastole == systole:
		longer = "as long as"
	}
	return map[string]string{
		"S1":       fmt.Sprintf("%s; %s S2.", part(0), louder(s1, s2)),
		"systole":  fmt.Sprintf("%s. %s", part(1), a.pause(1)),
		"S2":       fmt.Sprintf("%s; %s S1.", part(2), louder(s2, s1)),
		"diastole": fmt.Sprintf("%s, %s systole. %s", part(3), longer, a.pause(3)),
	}
}

// state returns the mean envelope during one state, at least one value of it.
func (a *averageCycle) state(k int) []float64 {
	from := 0
	for _, length := range a.lengths[:k] {
		from += int(length)
	}
	first := min(from/int(envelopeStep), len(a.mean)-1)
	return a.mean[first:max(min((from+int(a.lengths[k]))/int(envelopeStep), len(a.mean)), first+1)]
}

// louder compares the heights of two sounds in the mean envelope. A tenth is seldom
// visible.
func louder(a, b float64) string {
	switch {
	case a > 1.1*b:
		return "louder than"
	case b > 1.1*a:
		return "softer than"
	}
	return "about as loud as"
}

// middle returns the mean of the mean envelope in the middle half of a state, as a
// fraction of its largest value.
func (a *averageCycle) middle(k int) float64 {
	x := a.state(k)
	return stat.Mean(x[len(x)/4:max(len(x)*3/4, len(x)/4+1)], nil)
}

// pause says how high the envelope stands in the middle of a pause.
func (a *averageCycle) pause(k int) string {
	share := a.middle(k)
	seen := "almost flat in the drawing"
	switch {
	case share >= visiblePause:
		seen = "a sound that is clearly visible in the drawing"
	case share >= lowPause:
		seen = "low, but visible in the drawing"
	}
	return fmt.Sprintf("Its middle has %.0f %% of the height of the louder sound: %s.", 100*share, seen)
}
