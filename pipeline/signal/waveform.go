package signal

import "fmt"

// AnalysisRate is the sampling rate in hertz at which methods and features see
// a recording. Methods in print work at 1 kHz (Schmidt et al. 2010, doi
// 10.1088/0967-3334/31/4/004; Springer et al. 2016, doi
// 10.1109/TBME.2015.2475278): twice the upper edge of the band of the heart
// sounds, with room for a filter.
const AnalysisRate = 1000

// The band of the heart sounds, in hertz, that methods and features see:
// that of Schmidt et al. 2010, which Springer et al. 2016 took over (from
// memory, high confidence). It leaves out what moves the stethoscope.
const (
	BandLow  = 25.0
	BandHigh = 400.0
)

// bandOrder is the order of the Butterworth low-pass that the band-pass is
// designed from (Schmidt et al. 2010; from memory, medium confidence).
const bandOrder = 2

// Waveform is one recording at the analysis rate together with the two signals
// that segmentation and features both need of it. Each is computed when it is
// first asked for. A Waveform owns filters and buffers: one per worker, set to
// one recording after another, not for concurrent use.
type Waveform struct {
	X []float64 // the samples at AnalysisRate, as given to Set

	band     *ZeroPhase
	analytic *Analytic

	y, envelope       []float64
	hasY, hasEnvelope bool
}

// NewWaveform returns a Waveform set to x, which may be nil.
func NewWaveform(x []float64) *Waveform {
	return &Waveform{X: x, band: NewBandPass(bandOrder, BandLow, BandHigh), analytic: NewAnalytic()}
}

// NewBandPass returns a band-pass for signals at AnalysisRate, run forwards and
// backwards: [ButterworthBandPass] of the given order from low to high hertz.
// It panics unless there is such a filter.
func NewBandPass(order int, low, high float64) *ZeroPhase {
	sos, err := ButterworthBandPass(order, low, high, AnalysisRate)
	if err != nil {
		panic(fmt.Sprintf("signal: %v", err))
	}
	return NewZeroPhase(sos)
}

// Set makes x, which is kept and not copied, the recording.
func (w *Waveform) Set(x []float64) {
	w.X, w.hasY, w.hasEnvelope = x, false, false
}

// Band returns y, the samples band-limited to BandLow to BandHigh hertz without
// delay. The caller must not change it; it is valid until the next Set.
func (w *Waveform) Band() []float64 {
	if !w.hasY {
		w.y, w.hasY = w.band.Filter(w.y, w.X), true
	}
	return w.y
}

// Envelope returns the Hilbert envelope of Band, |y + j·H{y}|, in the unit of
// the samples. The caller must not change it; it is valid until the next Set.
func (w *Waveform) Envelope() []float64 {
	if !w.hasEnvelope {
		w.envelope, w.hasEnvelope = w.analytic.Envelope(w.envelope, w.Band()), true
	}
	return w.envelope
}
