package eval

import "math"

// wilson returns the score interval of a single proportion k/n at the given
// confidence: the values p for which a binomial with that p is not rejected,
//
//	(k + z²/2 ± z √(k(n−k)/n + z²/4)) / (n + z²)
//
// Wilson 1927, doi:10.1080/01621459.1927.10502953. Both ends are null for
// n = 0. It takes the n trials for independent; beats of one person are not.
func wilson(k, n int, confidence float64) (low, high Ratio) {
	if n == 0 {
		return null(), null()
	}
	z := normalQuantile((1 + confidence) / 2)
	success, trials := float64(k), float64(n)
	centre := success + z*z/2
	half := z * math.Sqrt(success*(trials-success)/trials+z*z/4)
	// At k = 0 and k = n one end is exactly 0 or 1, which rounding must not pass.
	return Ratio(max((centre-half)/(trials+z*z), 0)), Ratio(min((centre+half)/(trials+z*z), 1))
}

// normalQuantile is the inverse of the standard normal distribution.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// normalCDF is the standard normal distribution.
func normalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
