package features

import (
	"math"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// measureRecording fills r with what several features need of the recording.
func (e *Extractor) measureRecording(r *recording, intervals []pcg.Interval, length time.Duration) {
	r.cycles, r.length = e.times, length
	r.raw, r.rawRate = e.raw.x, e.raw.rate
	r.measureRaw()
	r.y = e.wave.Band()
	r.level = levelOf(r.y, 1)
	r.silent = r.level.silent()
	r.soundPower, r.pausePower = powers(r.y, intervals)

	r.spectrum.Density = r.spectrum.Density[:0]
	r.highShare = math.NaN()
	if !r.silent && len(e.wave.X) >= spectrumLeast {
		r.spectrum = e.welch.Estimate(r.spectrum, e.wave.X, signal.AnalysisRate)
		r.shape.Of(r.spectrum.Band(signal.BandLow, signal.BandHigh))
		if e.raw.decimator != nil {
			e.raw.spectrum = e.raw.welch.Estimate(e.raw.spectrum, e.raw.v, e.raw.vRate)
			r.highShare = highShare(e.raw.spectrum)
		}
	}
	e.measureRhythm(r)
}

// measureRhythm fills in what is measured on the frames of the envelope.
func (e *Extractor) measureRhythm(r *recording) {
	r.frames = r.frames[:0]
	if !r.silent {
		envelope := e.wave.Envelope()
		whole := len(envelope) / frameHop * frameHop
		r.frames = signal.FrameMeans(r.frames, envelope[:whole], frameHop)
	}
	r.moments = momentsOf(r.frames)
	if r.moments.second <= constant*r.moments.mean*r.moments.mean {
		r.frames = r.frames[:0]
		r.moments = momentsOf(r.frames)
	}
	r.acf = r.acf[:0]
	if len(r.frames) > acfSeconds*frameRate {
		r.acf = e.autocorrelate.Biased(r.acf, r.frames, acfSeconds*frameRate)
	}
	r.rhythm = rhythmOf(r.frames)
}
