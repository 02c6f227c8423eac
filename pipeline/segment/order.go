package segment

import "sort"

// quantile returns the value that the share q of x lies below, the nearest in
// rank; it sorts x, which must not be empty.
func quantile(x []float64, q float64) float64 {
	sort.Float64s(x)
	return x[int(q*float64(len(x)-1)+0.5)]
}
