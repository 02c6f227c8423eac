package signal

import "math"

// Quantile returns the q-quantile, 0 ≤ q ≤ 1, of values in ascending order,
// NaN of nothing. With the values x[0] to x[n−1] and p = q·(n − 1) it is
//
//	x[⌊p⌋] + (p − ⌊p⌋)·(x[⌊p⌋+1] − x[⌊p⌋]),
//
// the linear interpolation between order statistics that is definition 7 of
// Hyndman and Fan 1996 (Am Stat 50:361, doi 10.1080/00031305.1996.10473566).
// The quantile q = 0.5 is the median. It has the unit of the values.
func Quantile(sorted []float64, q float64) float64 {
	return QuantileAt(len(sorted), func(k int) float64 { return sorted[k] }, q)
}

// QuantileAt returns the same of n values that are not at hand as a slice:
// at(k) is the k-th in ascending order, counted from 0.
func QuantileAt(n int, at func(k int) float64, q float64) float64 {
	if n == 0 {
		return math.NaN()
	}
	p := q * float64(n-1)
	k := min(int(p), n-1)
	low := at(k)
	if k == n-1 {
		return low
	}
	return low + (p-float64(k))*(at(k+1)-low)
}
