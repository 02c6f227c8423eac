package simd

import "math"

// Oscillation is what a signal's values have of size and of sign.
type Oscillation struct {
	Sum             float64 // Σ |x[i]|
	Least, Greatest float64 // of |x[i]|
	Changes         int     // of the sign bit from one value to the next
}

// OscillationOf returns that of at least one value, none of which is NaN. The sum
// is kept in eight, of the terms with the same i mod 8.
func OscillationOf(x []float64) Oscillation {
	last := len(x) - 1
	first := math.Abs(x[0])
	var o oscillation
	for k := range parts {
		o.least[k], o.greatest[k] = first, first
	}
	whole := last &^ (parts - 1)
	oscillate(&o, x, whole)
	oscillatePortable(&o, x[whole:], last-whole)
	// The last value has no next one.
	oscillatePortable(&o, []float64{x[last], x[last]}, 1)
	all := Oscillation{Sum: total(&o.sum), Least: first, Greatest: first}
	for k := range parts {
		all.Least, all.Greatest = min(all.Least, o.least[k]), max(all.Greatest, o.greatest[k])
		all.Changes += int(o.changes[k])
	}
	return all
}

// oscillation holds what is known of the values with the same i mod parts.
type oscillation struct {
	sum, least, greatest [parts]float64
	changes              [parts]uint64
}

// oscillatePortable adds the first n of x, which a next one follows.
func oscillatePortable(o *oscillation, x []float64, n int) {
	for i, v := range x[:n] {
		k := i % parts
		size := math.Abs(v)
		o.sum[k] += size
		o.least[k] = min(o.least[k], size)
		o.greatest[k] = max(o.greatest[k], size)
		o.changes[k] += (math.Float64bits(v) ^ math.Float64bits(x[i+1])) >> 63
	}
}
