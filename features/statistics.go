package features

import (
	"math"

	"phonocycle/pipeline/lanes"
)

// mean returns the arithmetic mean of x, NaN of nothing.
func mean(x []float64) float64 { return lanes.Sum(x) / float64(len(x)) }

// squares returns Σ (x − centre)². It is kept in four sums, so that none waits for
// another.
func squares(x []float64, centre float64) float64 {
	var s0, s1, s2, s3 float64
	for ; len(x) >= 4; x = x[4:] {
		d0, d1, d2, d3 := x[0]-centre, x[1]-centre, x[2]-centre, x[3]-centre
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
	}
	for _, v := range x {
		s0 += (v - centre) * (v - centre)
	}
	return (s0 + s1) + (s2 + s3)
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

// moments holds the mean and the central moments Σ(x − mean)^k/n of a stretch
// of signal.
type moments struct{ mean, second, third, fourth float64 }

func momentsOf(x []float64) moments {
	m := moments{mean: mean(x)}
	var second, third, fourth float64
	for _, v := range x {
		d := v - m.mean
		d2 := d * d
		second += d2
		third += d2 * d
		fourth += d2 * d2
	}
	n := float64(len(x))
	m.second, m.third, m.fourth = second/n, third/n, fourth/n
	return m
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
