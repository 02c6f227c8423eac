package signal

import "math"

// shannonEnergy returns the Shannon energy −x²·ln x² of one sample with
// |x| ≤ 1; larger magnitudes count as 1 and zero gives zero, the limit. The
// largest value is 1/e, at |x| = e^(−1/2): middle amplitudes weigh most, and
// both faint noise and the loudest peaks less.
func shannonEnergy(x float64) float64 {
	p := x * x
	if p == 0 || p >= 1 {
		return 0
	}
	return -p * math.Log(p)
}

// ShannonEnergy writes to dst the average Shannon energy of frames of x,
//
//	E(t) = −(1/N)·Σ x(i)²·ln x(i)²,  i in frame t,
//
// for x scaled to |x| ≤ 1 (Liang, Lukkarinen, Hartimo 1997, Computers in
// Cardiology 105, doi 10.1109/CIC.1997.647841). Frame t is width samples wide
// and centred on t·hop + hop/2, so that len(dst) = ceil(len(x)/hop); frames
// that reach over an end are averaged over what there is. dst must not
// overlap x.
func ShannonEnergy(dst, x []float64, width, hop int) []float64 {
	dst = resize(dst, (len(x)+hop-1)/hop)
	for t := range dst {
		from := t*hop + hop/2 - width/2
		to := min(from+width, len(x))
		from = max(from, 0)
		sum := 0.0
		for _, v := range x[from:to] {
			sum += shannonEnergy(v)
		}
		dst[t] = sum / float64(to-from)
	}
	return dst
}

// Standardise subtracts the mean from x and divides by the standard
// deviation (divisor n), in place. A constant x becomes zero.
func Standardise(x []float64) {
	mean, sd := MeanSD(x)
	for i, v := range x {
		if sd == 0 {
			x[i] = 0
		} else {
			x[i] = (v - mean) / sd
		}
	}
}

// MeanSD returns the mean and the standard deviation (divisor n) of x, both
// zero if x is empty.
func MeanSD(x []float64) (mean, sd float64) {
	if len(x) == 0 {
		return 0, 0
	}
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	sum := 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sum / float64(len(x)))
}
