package features

import "phonocycle/pipeline/signal"

// The grid of the spectra of a state.
const (
	spectrumPoints = 1024 // at 1 kHz: bins 0.977 Hz apart, a state of up to 1.024 s in one segment
	spectrumLeast  = 40   // samples: one period of the lowest frequency
)

// The band above that of the heart sounds, which only some files have.
const (
	highBand = 800.0
	highRate = 2000 // Hz, the lowest rate at which 800 Hz is told from its images
)

// The settings of the cepstra. Every published set is different; these follow
// the width of the band: filters of about 30 Hz, as wide as the lines of a
// sound of 100 ms.
const (
	melFilters           = 20
	cepstralCoefficients = 13
)

// highShare returns the share of 400 to 800 Hz in the power at 25 to 800 Hz.
func highShare(s signal.Spectrum) float64 {
	return s.Band(signal.BandLow, highBand).Share(signal.BandHigh, highBand)
}
