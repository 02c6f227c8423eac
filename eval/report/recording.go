package report

import (
	"fmt"
	"html/template"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// Recording is a recording as a page marks it in the map, lists it and opens it. A
// chosen one is in the page as a figure with its sound; any other is drawn by the
// script of the page from its outline.
type Recording struct {
	View
	Person string
	Labels []pcg.Label
	Score  *ScoredRecording // nil where it has none
	Reason string           // why it failed or has no score

	// What Reduce leaves of the sound.
	envelope []byte
	audio    template.URL
}

// Group is a group of recordings that are shown for one reason.
type Group struct {
	Title, Why string
	Recordings []int // their positions in the page
}

// Describe takes over what a result says of the recording.
func (r *Recording) Describe(result *eval.Result) {
	r.Person, r.Labels, r.Reason = result.Person, result.Labels(), result.Reason
}

// Reduce replaces the samples of the section by what an outline needs: the envelope in
// few bytes and, if there is a waveform, a WAV file to play.
func (r *Recording) Reduce() (err error) {
	r.envelope = r.trace()
	if len(r.Wave) > 0 {
		if r.audio, err = wavURI(r.Wave, r.WaveRate); err != nil {
			return fmt.Errorf("sound of recording %s: %w", r.Recording, err)
		}
	}
	r.Sound = Sound{}
	return nil
}

// AddFacts adds what stands above the figure of a recording.
func (r *Recording) AddFacts() {
	fact := func(name, value string) {
		if value != "" {
			r.Facts = append(r.Facts, Fact{Name: name, Value: value})
		}
	}
	if s := r.Score; s != nil {
		fact("F1", s.F1().Percent()+" %")
		fact("detected", fmt.Sprintf("%d of %d sounds", s.TP, s.TP+s.FN))
		fact("false positives", fmt.Sprint(s.FP))
		if s.Reference.CycleLength > 0 && s.Predicted.CycleLength > 0 {
			fact("beats per minute", fmt.Sprintf("%.0f, predicted %.0f", float64(s.Reference.Rate()), float64(s.Predicted.Rate())))
		}
		if s.Exchanged {
			fact("note", "higher score with S1 and S2 exchanged")
		}
	}
	for _, l := range r.Labels {
		if l.Name == "site" {
			fact("site", l.Value)
		}
	}
	fact("person", r.Person)
}
