package signal

// FrameMeans writes to dst the means of consecutive stretches of hop samples
// of x, the last over what remains: len(dst) = ceil(len(x)/hop).
//
// As a decimator it low-passes with a moving average, whose gain is
// sin(πf·hop/fs)/(hop·sin(πf/fs)) and vanishes at every multiple of the new
// rate, so that nothing folds onto zero frequency. Frame t describes exactly
// the samples of [t·hop, (t+1)·hop).
func FrameMeans(dst, x []float64, hop int) []float64 {
	dst = resize(dst, (len(x)+hop-1)/hop)
	for t := range dst {
		frame := x[t*hop : min((t+1)*hop, len(x))]
		sum := 0.0
		for _, v := range frame {
			sum += v
		}
		dst[t] = sum / float64(len(frame))
	}
	return dst
}
