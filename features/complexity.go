package features

import "math"

// sampleEntropy returns the sample entropy ln(N₂/N₃) of x with m = 2 and r = 0.2 times the
// standard deviation (n in the denominator): of all pairs of the n − 2 places
// where a template of three samples can begin, N₂ have first and second samples
// that differ by at most r, and N₃ of these the third as well. It is NaN if
// there are none.
func (m *templateMatcher) sampleEntropy(x []float64) float64 {
	r := 0.2 * math.Sqrt(squares(x, mean(x))/float64(len(x)))
	two, three := m.templateMatches(x, r)
	if three == 0 {
		return math.NaN()
	}
	return math.Log(float64(two) / float64(three))
}
