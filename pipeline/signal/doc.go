// Package signal holds the signal processing of phonocardiography as pure
// functions, and small structs that own a transform plan, of samples and
// their sampling rate.
//
// # From sound to envelope
//
// A heart sound is a short burst of 20 to 200 Hz, and what a segmentation
// needs of it is when it is loud and where in the spectrum. The way from the
// microphone to that is the same in most published methods:
//
//  1. Band-pass, [ButterworthBandPass] run forwards and backwards
//     ([ZeroPhase]) so that nothing is delayed.
//  2. Removal of the spikes that friction leaves ([SpikeRemover]).
//  3. An envelope: the magnitude of the analytic signal ([Analytic]), its
//     homomorphic smoothing ([Homomorphic]), the average Shannon energy
//     ([ShannonEnergy]), the power in a band ([BandPower]) or one level of an
//     undecimated wavelet transform ([Wavelet]).
//  4. One value a frame ([FrameMeans]), and the rhythm of the frames by their
//     autocorrelation ([Autocorrelator]).
//
// # Conventions
//
// Frequencies are in hertz, sampling rates in samples per second. A function
// that takes dst writes its result there, grows it where its capacity is too
// small, and returns it; dst may be nil. Structs own buffers: they are cheap
// to reuse from recording to recording and must not be shared between
// goroutines. The inner loops are those of package simd.
package signal

// resize returns a slice of length n that reuses dst where it is large enough.
func resize(dst []float64, n int) []float64 {
	if cap(dst) < n {
		return make([]float64, n)
	}
	return dst[:n]
}
