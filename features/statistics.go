package features

import (
	"math"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// mean returns the arithmetic mean of x, NaN of nothing.
func mean(x []float64) float64 { return simd.Sum(x) / float64(len(x)) }

// squares returns Σ (x − centre)².
func squares(x []float64, centre float64) float64 {
	sum, _, _ := simd.Moments(x, centre)
	return sum
}

// standardDeviation returns √(Σ(x − mean)²/(n − 1)), NaN of fewer than two.
func standardDeviation(x []float64) float64 {
	if len(x) < 2 {
		return math.NaN()
	}
	return math.Sqrt(squares(x, mean(x)) / float64(len(x)-1))
}

// median returns the median of sorted values, NaN of nothing.
func median(sorted []float64) float64 { return signal.Quantile(sorted, 0.5) }

// interquartileRange returns the distance of the quartiles of sorted values,
// NaN of fewer than two.
func interquartileRange(sorted []float64) float64 {
	if len(sorted) < 2 {
		return math.NaN()
	}
	return signal.Quantile(sorted, 0.75) - signal.Quantile(sorted, 0.25)
}

// moments holds the mean and the central moments Σ(x − mean)^k/n of a stretch
// of signal.
type moments struct{ mean, second, third, fourth float64 }

func momentsOf(x []float64) moments {
	centre, n := mean(x), float64(len(x))
	second, third, fourth := simd.Moments(x, centre)
	return moments{centre, second / n, third / n, fourth / n}
}

// skewness returns the third moment over the second to the power 3/2.
func (m moments) skewness() float64 { return ratio(m.third, m.second*math.Sqrt(m.second)) }

// kurtosis returns the fourth moment over the square of the second: 3 for a
// normal distribution, 1.5 for a sine.
func (m moments) kurtosis() float64 { return ratio(m.fourth, m.second*m.second) }

// ratio returns a/b, and NaN unless b is positive.
func ratio(a, b float64) float64 {
	if !(b > 0) {
		return math.NaN()
	}
	return a / b
}

// decibels returns 10 log10 of a ratio of powers, NaN unless it is positive.
func decibels(r float64) float64 {
	if !(r > 0) {
		return math.NaN()
	}
	return 10 * math.Log10(r)
}

// energy returns Σ d².
func energy(d []float64) float64 { return simd.Dot(d, d) }
