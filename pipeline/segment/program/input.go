package program

import (
	"errors"
	"fmt"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

// inputRule says what a program reads of a recording.
type inputRule struct {
	file   bool        // the audio file, and no signal
	rate   int         // of the signal in hertz; 0 is as recorded
	band   *[2]float64 // in hertz; nil for no filter
	labels bool
}

// original reports whether the samples as recorded are needed.
func (r *inputRule) original() bool { return !r.file && r.rate != signal.AnalysisRate }

// bandOrder is the order of the Butterworth low-pass that band-passes are designed
// from: that of [signal.Waveform.Band].
const bandOrder = 2

// inputs makes what a program reads of recordings. It owns filters and buffers.
type inputs struct {
	inputRule
	signalWriter
	resampler  *audio.Resampler
	filter     *signal.ZeroPhase // for filterRate
	filterRate int
	samples    []float64
}

// signal returns the samples of a recording at the rate and in the band that the
// program reads, and the rate. They are valid until the next call.
func (s *inputs) signal(w *signal.Waveform, from *segment.Source) ([]float64, int, error) {
	x, rate := w.X, signal.AnalysisRate
	switch {
	case s.rate == signal.AnalysisRate && s.band != nil && *s.band == [2]float64{signal.BandLow, signal.BandHigh}:
		return w.Band(), rate, nil
	case s.rate == signal.AnalysisRate:
	case s.rate == 0:
		x, rate = from.Samples, from.Rate
	default:
		if s.resampler == nil {
			s.resampler = audio.NewResampler(s.rate)
		}
		s.samples = s.resampler.Resample(s.samples, from.Samples, from.Rate)
		x, rate = s.samples, s.rate
	}
	if s.band == nil {
		return x, rate, nil
	}
	if s.filterRate != rate {
		sos, err := signal.ButterworthBandPass(bandOrder, s.band[0], s.band[1], float64(rate))
		if err != nil {
			return nil, 0, err
		}
		s.filter, s.filterRate = signal.NewZeroPhase(sos), rate
	}
	s.samples = s.filter.Filter(s.samples, x)
	return s.samples, rate, nil
}

// request is what a program is told of a recording: a line of JSON.
type request struct {
	Recording string            `json:"recording"`
	Audio     string            `json:"audio,omitempty"`
	Signal    string            `json:"signal,omitempty"`
	Rate      int               `json:"rate,omitempty"`
	Duration  float64           `json:"duration"`
	Labels    map[string]string `json:"labels,omitzero"`
}

// request makes the request for a recording, and writes its signal, where the program
// reads one, to the file of that name.
func (s *inputs) request(w *signal.Waveform, from *segment.Source, file string) (*request, error) {
	r := &request{Recording: readBack(from.Recording)}
	if s.labels {
		r.Labels = map[string]string{}
		for l := range from.Labels.All() {
			if l.Value != "" {
				r.Labels[l.Name] = l.Value
			}
		}
	}
	if s.file {
		if from.File == "" {
			return nil, errors.New("the program reads audio files, and the recording is not one: use signal in place of audio")
		}
		r.Audio, r.Duration = from.File, pcg.FromSamples(int64(len(w.X)), signal.AnalysisRate).Seconds()
		return r, nil
	}
	x, rate, err := s.signal(w, from)
	if err != nil {
		return nil, err
	}
	if err := s.writeFile(file, x); err != nil {
		return nil, fmt.Errorf("signal for the program: %w", err)
	}
	r.Signal, r.Rate, r.Duration = file, rate, pcg.FromSamples(int64(len(x)), rate).Seconds()
	return r, nil
}

// readBack returns a text as it is read back from JSON, which is UTF-8.
func readBack(text string) string { return string([]rune(text)) }
