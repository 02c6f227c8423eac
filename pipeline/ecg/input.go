package ecg

import (
	"fmt"
	"math"
)

// MinRate is the lowest sampling rate in hertz at which R waves are found.
const MinRate = 100

// workRate is the rate in hertz to which the ECG is reduced, or a little more: its
// R waves lie below 50 Hz.
const workRate = 500

func checkRate(fs float64) error {
	if !(fs >= MinRate) || math.IsInf(fs, 1) {
		return fmt.Errorf("ECG of %g samples per second: R waves are found at %d Hz and above", fs, MinRate)
	}
	return nil
}

// reduce returns x without missing samples, as means of groups of samples, so that
// their rate is workRate or a little more, and where samples are missing.
func reduce(x []float64, fs float64) (reduced []float64, group int, missing []Span) {
	clean, missing := bridge(x)
	group = max(1, int(min(fs/workRate, math.MaxInt32)))
	return groupMeans(clean, group), group, missing
}

// bridge returns x scaled by its largest magnitude, less its first value, with a
// straight line over samples that are not finite, and the stretches in which these
// lie. What begins or ends so is made constant there. It returns nothing where no
// sample is finite.
func bridge(x []float64) (clean []float64, missing []Span) {
	largest := 0.0
	last := -1 // the last finite sample
	clean = make([]float64, len(x))
	for i, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		largest = math.Max(largest, math.Abs(v))
		clean[i] = v
		if last < i-1 {
			missing = append(missing, Span{last + 1, i})
		}
		last = i
	}
	if last < 0 {
		return nil, nil
	}
	if last < len(x)-1 {
		missing = append(missing, Span{last + 1, len(x)})
	}
	for _, m := range missing {
		fillLine(clean, m)
	}
	if largest > 0 {
		first := clean[0] / largest
		for i, v := range clean {
			clean[i] = v/largest - first
		}
	}
	return clean, missing
}

// fillLine draws a straight line through a stretch of x, from the sample before to
// the sample behind, or constant where one of the two is not there.
func fillLine(x []float64, m Span) {
	var from, to float64
	switch {
	case m.Start == 0:
		from, to = x[m.End], x[m.End]
	case m.End == len(x):
		from, to = x[m.Start-1], x[m.Start-1]
	default:
		from, to = x[m.Start-1], x[m.End]
	}
	for i := m.Start; i < m.End; i++ {
		share := float64(i-m.Start+1) / float64(m.End-m.Start+1)
		x[i] = from*(1-share) + to*share
	}
}

// groupMeans returns the means of groups of n samples, those at the end that make up
// no group left out. At the rates at hand the mean takes away most of what would
// fold into the band of the R waves.
func groupMeans(x []float64, n int) []float64 {
	if n == 1 {
		return x
	}
	means := make([]float64, len(x)/n)
	for i := range means {
		sum := 0.0
		for _, v := range x[i*n : i*n+n] {
			sum += v
		}
		means[i] = sum / float64(n)
	}
	return means
}
