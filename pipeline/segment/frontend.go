package segment

import (
	"math"
	"slices"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// frameRate is the number of frames per second that hidden-Markov methods work
// with, that of Schmidt et al. 2010 and of Springer et al. 2016. A frame lasts
// 20 ms.
const frameRate = 50

const hop = signal.AnalysisRate / frameRate // samples per frame

// Constants of the signal conditioning of Schmidt et al. 2010 (Physiol Meas
// 31:513, doi 10.1088/0967-3334/31/4/004), which Springer et al. 2016 (IEEE
// Trans Biomed Eng 63:822, doi 10.1109/TBME.2015.2475278) took over. The band
// and the frame rate are from memory with high confidence, the others with
// medium confidence.
const (
	spikeWindow    = 0.5 // s
	spikeFactor    = 3.0
	homomorphicCut = 8.0 // Hz
)

// Constants of the further envelopes of Springer et al. 2016. Band and wavelet
// are from memory with high confidence; the window is ours: one period of
// 20 Hz, the width of the band.
const (
	powerLow     = 40.0 // Hz
	powerHigh    = 60.0 // Hz
	powerWindow  = 0.05 // s
	waveletLevel = 3    // 62.5 to 125 Hz at 1 kHz
)

// frontEnd turns the samples of a recording into envelopes, one value a
// frame. Frame t describes the samples [20t, 20t + 20), the last perhaps
// fewer.
type frontEnd struct {
	wave        *signal.Waveform // the recording
	scaled      *signal.Waveform // one of extreme amplitudes, its peak brought near one
	spikes      *signal.SpikeRemover
	analytic    *signal.Analytic
	homomorphic *signal.Homomorphic
	power       *signal.BandPower
	wavelet     *signal.Wavelet
	clean       []float64 // band-passed, without spikes
	exponent    int       // of clean over the band of wave, a power of two
	spikeless   bool      // clean is the whole band of wave
	magnitude   []float64 // of the analytic signal of clean, where it is known
	work        []float64
}

func newFrontEnd() *frontEnd {
	homomorphic, err := signal.NewHomomorphic(homomorphicCut, signal.AnalysisRate)
	if err != nil {
		panic(err)
	}
	low, high, _, _ := signal.ReverseBiorthogonal39()
	return &frontEnd{
		scaled:      signal.NewWaveform(nil),
		spikes:      signal.NewSpikeRemover(spikeWindow*signal.AnalysisRate, spikeFactor),
		analytic:    signal.NewAnalytic(),
		homomorphic: homomorphic,
		power:       signal.NewBandPower(powerLow, powerHigh, signal.AnalysisRate, powerWindow*signal.AnalysisRate, hop),
		wavelet:     signal.NewWavelet(low, high, waveletLevel),
	}
}

// mostExponent bounds the powers of two of the amplitudes whose squares surely lie
// within the range of a float64.
const mostExponent = 400

// load conditions a recording: band-pass and removal of spikes.
func (f *frontEnd) load(w *signal.Waveform) error {
	if err := checkInput(w.X); err != nil {
		return err
	}
	// A power of two brings the peak near one without rounding.
	_, exponent := math.Frexp(simd.MaxAbs(w.X))
	if exponent < -mostExponent || exponent > mostExponent {
		x := make([]float64, len(w.X))
		scale(x, w.X, -exponent)
		f.scaled.Set(x)
		w, exponent = f.scaled, 0
	}
	f.wave, f.exponent = w, -exponent
	f.clean = grow(f.clean, len(w.X))
	scale(f.clean, w.Band(), f.exponent)
	var spikes int
	f.clean, spikes = f.spikes.Remove(f.clean, f.clean)
	f.spikeless, f.magnitude = spikes == 0, f.magnitude[:0]
	return nil
}

// envelope returns the magnitude of the analytic signal of the recording loaded.
func (f *frontEnd) envelope() []float64 {
	if len(f.magnitude) > 0 {
		return f.magnitude
	}
	if f.spikeless {
		f.magnitude = grow(f.magnitude, len(f.clean))
		scale(f.magnitude, f.wave.Envelope(), f.exponent)
	} else {
		f.magnitude = f.analytic.Envelope(f.magnitude, f.clean)
	}
	return f.magnitude
}

// scale writes x·2^exponent to dst, in two steps since a float64 may lack the
// whole power.
func scale(dst, x []float64, exponent int) {
	half, rest := math.Ldexp(1, exponent/2), math.Ldexp(1, exponent-exponent/2)
	for i, v := range x {
		dst[i] = v * half * rest
	}
}

// homomorphicFrames writes the homomorphic envelope to dst, one value per frame.
func (f *frontEnd) homomorphicFrames(dst []float64) []float64 {
	f.work = f.homomorphic.Smooth(f.work, f.envelope())
	return signal.FrameMeans(dst, f.work, hop)
}

// waveletFrames writes the magnitude of the wavelet details to dst, one value
// per frame.
func (f *frontEnd) waveletFrames(dst []float64) []float64 {
	f.work = f.wavelet.Detail(f.work, f.clean)
	for i, v := range f.work {
		f.work[i] = math.Abs(v)
	}
	return signal.FrameMeans(dst, f.work, hop)
}

// logFloor keeps the logarithm of an envelope finite: values count as at least
// this fraction of the largest, −100 dB, about the step of 16 bits.
const logFloor = 1e-5

// standardLog replaces an envelope by its logarithm, standardised. An envelope
// that is zero throughout stays so.
func standardLog(e []float64) {
	takeLog(e)
	signal.Standardise(e)
}

// takeLog replaces an envelope by its logarithm. One that is zero throughout stays so.
func takeLog(e []float64) {
	floor := logFloor * simd.MaxAbs(e)
	if floor == 0 {
		return
	}
	for i, v := range e {
		e[i] = max(v, floor)
	}
	simd.Log(e, e)
}

// grow returns a slice of n values, whatever they are, in the memory of s if it
// suffices.
func grow[T any](s []T, n int) []T { return slices.Grow(s[:0], n)[:n] }
