package features

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// Rate is the sampling rate in hertz of the signal that features are defined
// on.
const Rate = 1000

// Input is one recording and its segmentation.
type Input struct {
	Raw     []float64 // as decoded, in [−1, 1], at RawRate
	RawRate int       // Hz
	X       []float64 // Raw resampled to 1 kHz, otherwise unfiltered
	Fs      float64   // Hz, the sampling rate of X: 1000

	// Intervals are the states, sorted and disjoint; there may be gaps.
	Intervals []pcg.Interval
}

// Cycle holds one cardiac cycle: its five times and its features in the order
// of CycleFeatures. A NaN is a null.
type Cycle struct {
	Start   time.Duration // of S1
	S1End   time.Duration
	S2Start time.Duration
	S2End   time.Duration
	End     time.Duration // the start of the next S1
	Values  []float64
}

// Features holds the features of one recording. A NaN is a null.
type Features struct {
	Cycles    []Cycle
	Recording []float64 // in the order of RecordingFeatures
}

// Extractor computes features. It owns transform plans and buffers that grow
// to the longest recording: one per worker, not for concurrent use.
type Extractor struct {
	band, murmurs *signal.ZeroPhase
	analytic      *signal.Analytic
	periodogram   *signal.Periodogram
	welch         *signal.Welch
	mel           *signal.MelCepstrum
	wavelet       *signal.Wavelet
	autocorrelate *signal.Autocorrelator

	raw                    rawSignal
	x, y, envelope, murmur []float64
	details                [len(waveletBands)][]float64 // by level, from 1
	squares, logs          []float64                    // of the details of a state
	spectra                [2 * len(cycle{}.state)]signal.Spectrum
	smooth                 []float64
	bounds                 []bounds
	cycle                  cycle
	recording              recording
	columns                []float64 // of four features, side by side
	sorted                 [simd.Width][]float64
}

// rawSignal is the signal at the rate of the file and, of a file of at least
// 2000 Hz, v: the same thinned out to the lowest rate from 2000 Hz on.
type rawSignal struct {
	x    []float64
	rate int // Hz

	decimator   *signal.Decimator // nil where there is no v
	v           []float64
	vRate       float64 // Hz
	periodogram *signal.Periodogram
	welch       *signal.Welch
	spectrum    signal.Spectrum
}

// NewExtractor returns an Extractor.
func NewExtractor() *Extractor {
	return &Extractor{
		band:          NewBandPass(),
		murmurs:       bandPass(4, murmurLow, murmurHigh),
		analytic:      signal.NewAnalytic(),
		periodogram:   signal.NewPeriodogram(spectrumPoints),
		welch:         signal.NewWelch(spectrumPoints, spectrumPoints/2),
		mel:           signal.NewMelCepstrum(melFilters, cepstralCoefficients, bandLow, bandHigh, float64(Rate)/spectrumPoints),
		wavelet:       newWavelet(),
		autocorrelate: signal.NewAutocorrelator(),
	}
}

// NewBandPass returns the filter that makes y of x: 25 to 400 Hz, Butterworth of
// order 2, forwards and backwards.
func NewBandPass() *signal.ZeroPhase { return bandPass(2, bandLow, bandHigh) }

// bandPass returns a Butterworth band-pass of ours.
func bandPass(order int, low, high float64) *signal.ZeroPhase {
	sos, err := signal.ButterworthBandPass(order, low, high, Rate)
	if err != nil {
		panic(fmt.Sprintf("features: %v", err))
	}
	return signal.NewZeroPhase(sos)
}

// Extract returns the features of one recording. What cannot be measured is
// null; an error means that the input is not what Input says. Beyond what it
// returns it allocates nothing that grows with the recording, once its buffers
// have grown to the longest one.
func (e *Extractor) Extract(in Input) (Features, error) {
	if in.Fs != Rate {
		return Features{}, fmt.Errorf("features are defined at %d Hz: the signal has %g Hz: resample it", Rate, in.Fs)
	}
	if in.RawRate <= 0 {
		return Features{}, fmt.Errorf("sampling rate of the raw signal is %d Hz: want that of the file", in.RawRate)
	}
	length := max(pcg.FromSamples(int64(len(in.X)), Rate), pcg.FromSamples(int64(len(in.Raw)), in.RawRate))
	if err := checkIntervals(in.Intervals, length); err != nil {
		return Features{}, err
	}
	e.prepare(in)
	e.bounds = wholeCycles(e.bounds[:0], in.Intervals)
	out := Features{
		Cycles:    e.cycles(),
		Recording: make([]float64, len(recordingFeatures)),
	}
	e.viewRecording(&e.recording, in.Intervals, length)
	for i, f := range recordingFeatures {
		if f.ofRecording != nil {
			out.Recording[i] = finite(f.ofRecording(&e.recording))
		}
	}
	e.summarise(out)
	return out, nil
}

// prepare fills the signals that the features are measured on.
func (e *Extractor) prepare(in Input) {
	e.raw.set(in.Raw, in.RawRate)
	e.x = in.X
	e.y = e.band.Filter(e.y, in.X)
	e.murmur = e.murmurs.Filter(e.murmur, in.X)
	e.envelope = e.analytic.Envelope(e.envelope, e.y)
	e.wavelet.Details(e.details[:], in.X)
}

// set makes x the raw signal and, where the rate is new, the plans for it: the
// grid of v is the least power of two that is at least half a second long.
func (r *rawSignal) set(x []float64, rate int) {
	if r.rate != rate {
		r.rate, r.decimator = rate, nil
		if rate >= highRate {
			factor := rate / highRate
			r.decimator = signal.NewDecimator(factor, highBand, float64(rate))
			r.vRate = float64(rate) / float64(factor)
			n := 1 << bits.Len(uint(math.Ceil(r.vRate/2))-1)
			r.periodogram, r.welch = signal.NewPeriodogram(n), signal.NewWelch(n, n/2)
		}
	}
	r.x = x
	if r.decimator != nil {
		r.v = r.decimator.Decimate(r.v, x)
	}
}

// between returns the samples of v from one time to another.
func (r *rawSignal) between(start, end time.Duration) []float64 {
	at := func(t time.Duration) int {
		return min(int(math.Round(t.Seconds()*r.vRate)), len(r.v))
	}
	return r.v[at(start):at(end)]
}

// cycles returns the features of each whole cycle.
func (e *Extractor) cycles() []Cycle {
	if len(e.bounds) == 0 {
		return nil
	}
	width := len(cycleFeatures)
	values := make([]float64, width*len(e.bounds))
	out := make([]Cycle, len(e.bounds))
	for i, b := range e.bounds {
		v := values[i*width : (i+1)*width : (i+1)*width]
		e.view(&e.cycle, b)
		for k := range cycleFeatures {
			v[k] = finite(cycleFeatures[k].ofCycle(&e.cycle))
		}
		out[i] = Cycle{Start: b[0], S1End: b[1], S2Start: b[2], S2End: b[3], End: b[4], Values: v}
	}
	return out
}

// summarise fills in the statistics over cycles, which end the features of the
// recording.
func (e *Extractor) summarise(out Features) {
	at := len(recordingFeatures)
	for k := range cycleFeatures {
		at -= bits.OnesCount8(uint8(cycleFeatures[k].Statistics))
	}
	for k := range cycleFeatures {
		if k%simd.Width == 0 {
			e.sortColumns(out.Cycles, k)
		}
		column := e.sorted[k%simd.Width]
		for _, s := range statistics {
			if cycleFeatures[k].Statistics&s.bit != 0 {
				out.Recording[at] = finite(s.of(column))
				at++
			}
		}
	}
}

// sortColumns fills sorted with the values of four features from the k-th on, as
// far as there are so many, without nulls.
func (e *Extractor) sortColumns(cycles []Cycle, k int) {
	width := min(simd.Width, len(cycleFeatures)-k)
	e.columns = slices.Grow(e.columns[:0], simd.Width*len(cycles))
	var count [simd.Width]int
	for i := range cycles {
		row := [simd.Width]float64{}
		for l, v := range cycles[i].Values[k : k+width] {
			if row[l] = v; math.IsNaN(v) {
				row[l] = math.Inf(1) // behind all values
			} else {
				count[l]++
			}
		}
		e.columns = append(e.columns, row[:]...)
	}
	simd.Sort(e.columns)
	for l, n := range count {
		e.sorted[l] = slices.Grow(e.sorted[l][:0], n)[:n]
		for i := range n {
			e.sorted[l][i] = e.columns[simd.Width*i+l]
		}
	}
}

// finite returns v, and NaN for an infinity.
func finite(v float64) float64 {
	if math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}
