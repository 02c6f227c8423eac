package segment

import (
	"math"
	"slices"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// frameRate is the number of frames per second that hidden-Markov methods work
// with, that of Schmidt et al. 2010 and of Springer et al. 2016. A frame lasts
// 20 ms.
const frameRate = 50

const hop = Rate / frameRate // samples per frame

// Constants of the signal conditioning of Schmidt et al. 2010 (Physiol Meas
// 31:513, doi 10.1088/0967-3334/31/4/004), which Springer et al. 2016 (IEEE
// Trans Biomed Eng 63:822, doi 10.1109/TBME.2015.2475278) took over. The band
// and the frame rate are from memory with high confidence, the others with
// medium confidence.
const (
	bandLow        = 25.0  // Hz
	bandHigh       = 400.0 // Hz
	bandOrder      = 2     // of the Butterworth prototype
	spikeWindow    = 0.5   // s
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
	bandPass    *signal.ZeroPhase
	spikes      *signal.SpikeRemover
	analytic    *signal.Analytic
	homomorphic *signal.Homomorphic
	power       *signal.BandPower
	wavelet     *signal.Wavelet
	clean       []float64 // band-passed, without spikes
	magnitude   []float64 // of its analytic signal
	work        []float64
}

func newFrontEnd() *frontEnd {
	band, err := signal.ButterworthBandPass(bandOrder, bandLow, bandHigh, Rate)
	if err != nil {
		panic(err) // the constants are ours
	}
	homomorphic, err := signal.NewHomomorphic(homomorphicCut, Rate)
	if err != nil {
		panic(err)
	}
	low, high, _, _ := signal.ReverseBiorthogonal39()
	return &frontEnd{
		bandPass:    signal.NewZeroPhase(band),
		spikes:      signal.NewSpikeRemover(spikeWindow*Rate, spikeFactor),
		analytic:    signal.NewAnalytic(),
		homomorphic: homomorphic,
		power:       signal.NewBandPower(powerLow, powerHigh, Rate, powerWindow*Rate, hop),
		wavelet:     signal.NewWavelet(low, high, waveletLevel),
	}
}

// load conditions a recording: band-pass, removal of spikes, analytic signal.
func (f *frontEnd) load(x []float64, fs float64) error {
	if err := checkInput(x, fs); err != nil {
		return err
	}
	// A power of two brings the peak near one without rounding, so that the
	// squares of no sample leave the range of a float64.
	_, exponent := math.Frexp(simd.Peak(x))
	f.clean = grow(f.clean, len(x))
	scale(f.clean, x, -exponent)
	f.clean = f.bandPass.Filter(f.clean, f.clean)
	f.clean, _ = f.spikes.Remove(f.clean, f.clean)
	f.magnitude = f.analytic.Envelope(f.magnitude, f.clean)
	return nil
}

// scale writes x·2^exponent to dst.
func scale(dst, x []float64, exponent int) {
	const widest = 1000 // whose power of two is an ordinary number
	if exponent < -widest || exponent > widest {
		for i, v := range x {
			dst[i] = math.Ldexp(v, exponent)
		}
		return
	}
	factor := math.Ldexp(1, exponent)
	for i, v := range x {
		dst[i] = v * factor
	}
}

// The envelopes below write one value per frame to dst, for the recording
// loaded.

func (f *frontEnd) homomorphicFrames(dst []float64) []float64 {
	f.work = f.homomorphic.Smooth(f.work, f.magnitude)
	return signal.FrameMeans(dst, f.work, hop)
}

func (f *frontEnd) hilbertFrames(dst []float64) []float64 {
	return signal.FrameMeans(dst, f.magnitude, hop)
}

func (f *frontEnd) powerFrames(dst []float64) []float64 {
	return f.power.Frames(dst, f.clean)
}

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
// that is zero throughout becomes zero.
func standardLog(e []float64) {
	floor := logFloor * simd.Peak(e)
	if floor == 0 {
		clear(e)
		return
	}
	for i, v := range e {
		if v < floor {
			e[i] = floor
		}
	}
	simd.Log(e, e)
	signal.Standardise(e)
}

// intervals turns runs of frames into intervals of a recording of n samples.
func intervals(runs []hsmm.Run, n int) []pcg.Interval {
	out := make([]pcg.Interval, len(runs))
	for i, r := range runs {
		out[i] = pcg.Interval{
			Start: pcg.FromSamples(int64(r.Start*hop), Rate),
			End:   pcg.FromSamples(int64(min(r.End*hop, n)), Rate),
			State: r.State,
		}
	}
	return out
}

// grow returns a slice of n values, whatever they are, in the memory of s if it
// suffices.
func grow[T any](s []T, n int) []T { return slices.Grow(s[:0], n)[:n] }
