package simd

import "math"

// Oscillation describes the magnitudes and signs of a signal's samples.
type Oscillation struct {
	Sum             float64 // Σ |x[i]|
	Least, Greatest float64 // of |x[i]|
	Changes         int     // of the sign bit from one sample to the next
}

// OscillationOf returns the Oscillation of at least one sample, none of which is
// NaN. The sum is the total of eight partial sums, of the terms with the same
// i mod 8; the last term is added to the first of them.
func OscillationOf(x []float64) Oscillation {
	last := len(x) - 1
	var sums [parts]float64
	for i, v := range x[:last] {
		sums[i%parts] += math.Abs(v)
	}
	sums[0] += math.Abs(x[last])
	least, greatest, changes := magnitude(x[0]), magnitude(x[0]), uint64(0)
	before := math.Float64bits(x[0])
	for _, v := range x {
		bits := math.Float64bits(v)
		changes += (bits ^ before) >> 63
		least, greatest = min(least, magnitude(v)), max(greatest, magnitude(v))
		before = bits
	}
	return Oscillation{
		Sum: total(&sums), Least: math.Float64frombits(least), Greatest: math.Float64frombits(greatest),
		Changes: int(changes),
	}
}
