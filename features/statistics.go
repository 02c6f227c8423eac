package features

import (
	"math"

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
func median(sorted []float64) float64 { return quantile(sorted, 0.5) }

// interquartileRange returns the distance of the quartiles of sorted values,
// NaN of fewer than two.
func interquartileRange(sorted []float64) float64 {
	if len(sorted) < 2 {
		return math.NaN()
	}
	return quantile(sorted, 0.75) - quantile(sorted, 0.25)
}

// quantile returns the q quantile of sorted values by linear interpolation
// between the order statistics, the value at the position q(n − 1): definition
// 7 of Hyndman and Fan 1996, doi 10.1080/00031305.1996.10473566.
func quantile(sorted []float64, q float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	at := q * float64(n-1)
	i := min(int(at), n-1)
	if i == n-1 {
		return sorted[i]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// quantileOf returns the same of values in any order, which it exchanges rather
// than sorts.
func quantileOf(x []float64, q float64) float64 {
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	at := q * float64(n-1)
	i := min(int(at), n-1)
	arrange(x, i)
	if i == n-1 {
		return x[i]
	}
	next, _ := simd.Limits(x[i+1:])
	return quantile([]float64{x[i], next}, at-float64(i))
}

// arrange exchanges values of x until x[k] is the one that sorting would put
// there, none before it being greater and none after it less. Source: Hoare 1961,
// Algorithm 65: Find, doi 10.1145/366622.366647.
func arrange(x []float64, k int) {
	for low, high := 0, len(x)-1; low < high; {
		pivot := x[k]
		i, j := low, high
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i, j = i+1, j-1
			}
		}
		if j < k {
			low = i
		}
		if k < i {
			high = j
		}
	}
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
