package pcg

import (
	"fmt"
	"math"
	"time"
)

// Interval is a stretch of one state, half-open: a sample at Start belongs to
// it, a sample at End does not.
type Interval struct {
	Start, End time.Duration
	State      State
}

// Duration returns End − Start.
func (iv Interval) Duration() time.Duration { return iv.End - iv.Start }

// Centre returns the middle of the interval, rounded down to a nanosecond.
func (iv Interval) Centre() time.Duration { return iv.Start + (iv.End-iv.Start)/2 }

// Contains reports whether t lies in [Start, End).
func (iv Interval) Contains(t time.Duration) bool { return iv.Start <= t && t < iv.End }

// String returns the interval in seconds, as in "S1 [0.740 s, 0.860 s)".
func (iv Interval) String() string {
	return fmt.Sprintf("%v [%.3f s, %.3f s)", iv.State, iv.Start.Seconds(), iv.End.Seconds())
}

// Point marks the middle of one sound, as data sets do that give one time a
// sound and no duration.
type Point struct {
	At    time.Duration
	Sound State
}

// FromSamples returns the time of sample n at the given rate in hertz,
// rounded to the nearest nanosecond (half away from zero).
func FromSamples(n int64, rate int) time.Duration {
	const second = int64(time.Second)
	r := int64(rate)
	whole, rest := n/r, n%r
	half := r / 2
	if rest < 0 {
		half = -half
	}
	return time.Duration(whole*second + (rest*second+half)/r)
}

// FromSeconds returns s seconds rounded to the nearest nanosecond. It must not
// be called with NaN or with magnitudes beyond the 292 years of time.Duration.
func FromSeconds(s float64) time.Duration {
	return time.Duration(math.Round(s * float64(time.Second)))
}

// ToSamples returns the index of the sample nearest to t at the given rate in
// hertz (half upwards).
func ToSamples(t time.Duration, rate int) int {
	const second = int64(time.Second)
	r := int64(rate)
	whole, rest := int64(t)/second, int64(t)%second
	return int(whole*r + int64(math.Floor(float64(rest*r)/float64(second)+0.5)))
}
