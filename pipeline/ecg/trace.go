package ecg

// The band of [Trace].
const (
	traceOrder          = 2
	traceLow, traceHigh = 0.5, 30 // Hz
)

// Trace returns the ECG x as it is drawn for the eye: between 0.5 and 30 Hz, without
// baseline wander and hum, at a rate of about 500 samples per second or, where fs is
// lower, at fs. Missing samples are bridged by a straight line. The unit is the
// largest magnitude of x.
func Trace(x []float64, fs float64) (wave []float64, rate float64, err error) {
	if err := checkRate(fs); err != nil {
		return nil, 0, err
	}
	reduced, group, _ := reduce(x, fs)
	rate = fs / float64(group)
	if len(reduced) == 0 {
		return nil, rate, nil
	}
	return bandPass(reduced, traceOrder, traceLow, traceHigh, rate), rate, nil
}
