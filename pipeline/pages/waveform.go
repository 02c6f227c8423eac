package pages

import (
	"phonocycle/eval/report"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/signal"
)

// soundRate is the sampling rate of the audio in a page in hertz. Heart sounds and
// murmurs lie below 1 kHz.
const soundRate = 4000

// envelopeCut is the cutoff frequency of the envelope of a page in hertz. The
// envelope is that of segmentation (Schmidt et al. 2010,
// doi:10.1088/0967-3334/31/4/004, cited from memory), which has 8 Hz; with 20 Hz
// the start of a sound can be seen.
const envelopeCut = 20

// waveforms makes the waveform and the envelope that a page shows and plays.
type waveforms struct {
	resampler *audio.Resampler
	band      *signal.Waveform
	envelope  *signal.Homomorphic
}

func newWaveforms() (*waveforms, error) {
	envelope, err := signal.NewHomomorphic(envelopeCut, signal.AnalysisRate)
	return &waveforms{audio.NewResampler(soundRate), signal.NewWaveform(nil), envelope}, err
}

// sound returns waveform and envelope of a recording.
func (w *waveforms) sound(r *corpus.Loaded) report.Sound {
	s := w.envelopeOf(r)
	s.Wave, s.WaveRate = w.resampler.Resample(nil, r.Clip.Samples, r.Clip.Rate), soundRate
	return s
}

// envelopeOf returns the envelope of a recording, without its waveform.
func (w *waveforms) envelopeOf(r *corpus.Loaded) report.Sound {
	w.band.Set(r.X)
	return report.Sound{Envelope: w.envelope.Smooth(nil, w.band.Envelope()), EnvelopeRate: signal.AnalysisRate}
}
