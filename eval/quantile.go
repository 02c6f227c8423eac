package eval

import (
	"math"
	"time"
)

// quantile interpolates linearly between the order statistics at(0) …
// at(n−1): definition 7 of Hyndman and Fan 1996,
// doi:10.1080/00031305.1996.10473566.
func quantile(n int, at func(int) float64, q float64) float64 {
	place := q * float64(n-1)
	k := min(int(place), n-1)
	if k == n-1 {
		return at(k)
	}
	low, high := at(k), at(k+1)
	return low + (place-float64(k))*(high-low)
}

// quantileOf returns a quantile of sorted values, NaN of none.
func quantileOf(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	return quantile(len(sorted), func(k int) float64 { return sorted[k] }, q)
}

func milliseconds(t time.Duration) float64 { return float64(t) / float64(time.Millisecond) }

// fromMilliseconds is the inverse of milliseconds.
func fromMilliseconds(ms float64) time.Duration {
	return time.Duration(math.Round(ms * float64(time.Millisecond)))
}
