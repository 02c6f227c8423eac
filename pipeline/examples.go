package pipeline

import (
	"bytes"
	"iter"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/segment"
)

// examples yields the annotated recordings that keep takes, in the order of
// their ids, decoded and resampled. Recordings that cannot be read or have no
// usable reference are passed over; a run lists them with their reasons.
func (j *job) examples(keep func(*entry) bool) iter.Seq2[segment.Example, error] {
	return func(yield func(segment.Example, error) bool) {
		decoder := audio.Decoder{Channel: j.config.Channel}
		resampler := audio.NewResampler(AnalysisRate)
		for i := range j.entries {
			e := &j.entries[i]
			if e.recording.Reference == "" || !keep(e) {
				continue
			}
			content, err := e.set.ReadFile(e.recording.Audio)
			if err != nil {
				continue
			}
			clip, err := decoder.Decode(bytes.NewReader(content))
			if err != nil {
				continue
			}
			reference, err := e.set.Reference(&e.recording, clip.Rate, clip.Duration())
			if err != nil || len(reference.Intervals) == 0 {
				continue
			}
			example := segment.Example{
				Recording: e.id, Person: e.person, Reference: reference,
				X: resampler.Resample(nil, clip.Samples, clip.Rate),
			}
			if !yield(example, nil) {
				return
			}
		}
	}
}
