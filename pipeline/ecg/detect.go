package ecg

// Detect finds the R waves in x, an ECG of fs samples per second, at least
// [MinRate]. The samples may be of either polarity and any unit, and be missing in
// places (not finite).
func Detect(x []float64, fs float64) (Result, error) {
	if err := checkRate(fs); err != nil {
		return Result{}, err
	}
	first, second, missing := findWaves(x, fs)
	return agree(first, second, missing, fs), nil
}

// findWaves returns the R waves that each detector finds, and where samples are
// missing.
func findWaves(x []float64, fs float64) (first, second []int, missing []Span) {
	reduced, group, missing := reduce(x, fs)
	if len(reduced) == 0 {
		return nil, nil, missing
	}
	rate := fs / float64(group)
	first, second = panTompkins(reduced, rate), lengthTransform(reduced, rate)
	wave := upwards(bandPass(reduced, locateOrder, locateLow, locateHigh, rate), rate, first, second)
	return place(wave, rate, group, first), place(wave, rate, group, second), missing
}
