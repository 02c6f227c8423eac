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

// Detect finds the R waves in x, an ECG of fs samples per second, at least
// [MinRate]. The samples may be of either polarity and any unit, and be missing in
// places (not finite).
func Detect(x []float64, fs float64) (Result, error) {
	if !(fs >= MinRate) || math.IsInf(fs, 1) {
		return Result{}, fmt.Errorf("ECG of %g samples per second: R waves are found at %d Hz and above", fs, MinRate)
	}
	first, second, missing := findWaves(x, fs)
	return agree(first, second, missing, fs), nil
}

// findWaves returns the R waves that each detector finds, and where samples are
// missing.
func findWaves(x []float64, fs float64) (first, second []int, missing []Span) {
	clean, missing := bridge(x)
	group := max(1, int(min(fs/workRate, math.MaxInt32)))
	reduced, rate := groupMeans(clean, group), fs/float64(group)
	if len(reduced) == 0 {
		return nil, nil, missing
	}
	first, second = panTompkins(reduced, rate), lengthTransform(reduced, rate)
	wave := upwards(bandPass(reduced, locateOrder, locateLow, locateHigh, rate), rate, first, second)
	return place(wave, rate, group, first), place(wave, rate, group, second), missing
}
