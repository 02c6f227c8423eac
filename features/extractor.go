package features

import (
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// Extractor computes features. It owns transform plans and buffers that grow
// to the longest recording: one per worker, not for concurrent use.
type Extractor struct {
	murmurs       *signal.ZeroPhase
	periodogram   *signal.Periodogram
	welch         *signal.Welch
	mel           *signal.MelCepstrum
	wavelet       *signal.Wavelet
	autocorrelate *signal.Autocorrelator

	wave          *signal.Waveform // of the recording in work
	murmur        []float64
	raw           rawSignal
	details       [len(waveletBands)][]float64 // by level, from 1
	squares, logs []float64                    // of the details of a state
	spectra       [2 * len(cycle{}.state)]signal.Spectrum
	smooth        []float64
	times         []pcg.CycleTimes
	cycle         cycle
	recording     recording
	columns       []float64 // of four features, side by side
	sorted        [simd.Width][]float64
}

// NewExtractor returns an Extractor for recordings of any rate and length.
func NewExtractor() *Extractor {
	return &Extractor{
		murmurs:       signal.NewBandPass(murmurOrder, murmurLow, murmurHigh),
		periodogram:   signal.NewPeriodogram(spectrumPoints),
		welch:         signal.NewWelch(spectrumPoints, spectrumPoints/2),
		mel:           signal.NewMelCepstrum(melFilters, cepstralCoefficients, signal.BandLow, signal.BandHigh, signal.AnalysisRate/float64(spectrumPoints)),
		wavelet:       newWavelet(),
		autocorrelate: signal.NewAutocorrelator(),
	}
}
