package segment

import (
	"math"

	"phonocycle/pipeline/signal"
)

// SoundRate estimates heart rates from sound alone: it takes the highest peak of
// the autocorrelation of the homomorphic envelope, as Schmidt et al. 2010 do, and
// no method's segmentation. In single recordings the peak may lie at half or twice
// the cycle. It serves one goroutine.
type SoundRate struct {
	frontEnd *frontEnd
	rhythms  rhythmFinder
	envelope []float64
}

// NewSoundRate returns an estimator.
func NewSoundRate() *SoundRate { return &SoundRate{frontEnd: newFrontEnd()} }

// Estimate returns the heart rate in beats per minute, or NaN for a recording
// that no method can segment.
func (s *SoundRate) Estimate(w *signal.Waveform) float64 {
	if s.frontEnd.load(w) != nil {
		return math.NaN()
	}
	s.envelope = s.frontEnd.homomorphicFrames(s.envelope)
	standardLog(s.envelope)
	return 60 / s.rhythms.find(s.envelope, defaultRates(), 1)[0].cycle
}
