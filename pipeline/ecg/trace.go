package ecg

import (
	"slices"
	"time"

	"phonocycle/pipeline/signal"
)

// The filters of [Trace]. A median is not drawn away by waves, which last less than
// half of its window, and a jump leaves no slow tail behind it.
const (
	traceOrder  = 3
	traceHigh   = 30 // Hz
	traceWindow = time.Second
	traceStep   = 100 * time.Millisecond
)

// Trace returns the ECG x as it is drawn for the eye: below 30 Hz, without hum, and
// less its median over a second, so without baseline wander. It has about 500 samples
// per second or, where fs is lower, fs. Missing samples are bridged by a straight line.
// The unit is the largest magnitude of x.
func Trace(x []float64, fs float64) (wave []float64, rate float64, err error) {
	if err := checkRate(fs); err != nil {
		return nil, 0, err
	}
	reduced, group, _ := reduce(x, fs)
	rate = fs / float64(group)
	if len(reduced) == 0 {
		return nil, rate, nil
	}
	wave = lowPass(reduced, traceOrder, traceHigh, rate)
	baseline := runningMedian(wave, samples(traceWindow/2, rate), samples(traceStep, rate))
	for i := range wave {
		wave[i] -= baseline[i]
	}
	return wave, rate, nil
}

// runningMedian returns the medians of the values at most half before and behind each
// sample, computed at each step and on a straight line between.
func runningMedian(x []float64, half, step int) []float64 {
	var window, medians []float64
	for at := 0; at < len(x)+step; at += step {
		from := max(0, min(at-half, len(x)-half))
		window = append(window[:0], x[from:min(len(x), at+half+1)]...)
		slices.Sort(window)
		medians = append(medians, signal.Quantile(window, 0.5))
	}
	line := make([]float64, len(x))
	for i := range line {
		k, part := i/step, float64(i%step)/float64(step)
		line[i] = medians[k] + part*(medians[k+1]-medians[k])
	}
	return line
}
