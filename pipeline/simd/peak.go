package simd

import "math"

// Peak returns the greatest magnitude of x, zero if there is none and NaN if one is
// NaN.
func Peak(x []float64) float64 {
	whole := len(x) &^ (Width - 1)
	peaks := Peaks(x[:whole])
	return math.Float64frombits(max(greatest(peaks[:]), greatest(x[whole:])))
}

// Peaks returns the peak of each of four sequences that lie side by side in x. It
// panics if their lengths differ.
func Peaks(x []float64) (peak [Width]float64) {
	if len(x)%Width != 0 {
		panic("simd: sequences of different lengths")
	}
	peaks(&peak, x)
	return peak
}

// peaksPortable raises each peak to that of its sequence. It compares bits: without
// their sign they are in the order of the magnitudes, with NaN above infinity.
func peaksPortable(peak *[Width]float64, x []float64) {
	p0, p1, p2, p3 := magnitude(peak[0]), magnitude(peak[1]), magnitude(peak[2]), magnitude(peak[3])
	for len(x) >= Width {
		p0, p1 = max(p0, magnitude(x[0])), max(p1, magnitude(x[1]))
		p2, p3 = max(p2, magnitude(x[2])), max(p3, magnitude(x[3]))
		x = x[Width:]
	}
	for l, p := range [Width]uint64{p0, p1, p2, p3} {
		peak[l] = math.Float64frombits(p)
	}
}

// greatest returns the bits of the greatest magnitude.
func greatest(x []float64) uint64 {
	var g uint64
	for _, v := range x {
		g = max(g, magnitude(v))
	}
	return g
}

// magnitude returns the bits of x without its sign.
func magnitude(x float64) uint64 { return math.Float64bits(x) &^ (1 << 63) }
