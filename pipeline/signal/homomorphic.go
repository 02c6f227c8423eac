package signal

import "phonocycle/pipeline/simd"

// floorBelowPeak bounds the logarithm in Homomorphic: values are taken to be
// at least this fraction of the largest, −120 dB, which is below the step of
// a 16-bit recording.
const floorBelowPeak = 1e-6

// Homomorphic smooths the envelope of a whole recording,
//
//	exp(LP(ln a)),  a = |x + j·H{x}|.
//
// A sound is thought of as a slow amplitude times a fast carrier. The
// logarithm turns the product into a sum, of which a low-pass keeps the slow
// part. Homomorphic filtering of heart sounds: Gupta et al. 2007 (Appl Soft
// Comput 7:286, doi 10.1016/j.asoc.2005.06.006). The analytic signal
// ([Analytic]) instead of |x| is our choice: its magnitude does not vanish at
// every zero crossing, where the logarithm has no value. The result has the unit
// of a and follows its gain; that of a tone of amplitude A is A.
type Homomorphic struct{ lowPass *ZeroPhase }

// NewHomomorphic returns a plan for the sampling rate fs in hertz whose low-pass
// is a first-order Butterworth filter with its edge at cut hertz, run with zero
// phase. Schmidt et al. use 8 Hz (from memory, medium confidence).
func NewHomomorphic(cut, fs float64) (*Homomorphic, error) {
	lp, err := ButterworthLowPass(1, cut, fs)
	if err != nil {
		return nil, err
	}
	return &Homomorphic{NewZeroPhase(lp)}, nil
}

// Smooth writes exp(LP(ln a)) to dst for an envelope a ≥ 0; dst may be a. An
// envelope that is zero throughout stays so.
func (h *Homomorphic) Smooth(dst, a []float64) []float64 {
	dst = resize(dst, len(a))
	peak := simd.MaxAbs(a)
	if peak == 0 {
		clear(dst)
		return dst
	}
	floor := peak * floorBelowPeak
	for i, v := range a {
		if v < floor {
			v = floor
		}
		dst[i] = v
	}
	simd.Log(dst, dst)
	h.lowPass.Filter(dst, dst)
	simd.Exp(dst, dst)
	return dst
}
