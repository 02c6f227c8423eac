package pipeline

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

const (
	// viewWidth is how much of a recording the report shows: some ten beats, as
	// wide as a screen can show and as long as one listens.
	viewWidth = 8 * time.Second

	// soundRate is the sampling rate of sounds in a page. Heart sounds and murmurs
	// lie below 1 kHz.
	soundRate = 4000

	// viewsOfAKind is how many recordings are shown as best, middle and worst.
	viewsOfAKind = 3

	// viewsOfADoubt is how many recordings are shown for one reason to doubt a
	// reference.
	viewsOfADoubt = 2
)

// choice is recordings that are shown for one reason.
type choice struct {
	title, why string
	ids        []string
	evidence   map[string]string // of a doubt, by recording
}

// show adds recordings to the page: the best, the middle and the worst, and those
// with a doubted reference.
func (g *gathering) show(ctx context.Context, page *report.Page, sources []Source) error {
	kinds, doubts := chooseByScore(&g.runs[0].details), chooseByDoubt(page.Audit)
	wanted := make(map[string]bool)
	for _, c := range slices.Concat(kinds, doubts) {
		for _, id := range c.ids {
			wanted[id] = true
		}
	}
	views, err := g.views(ctx, wanted, sources)
	if err != nil {
		return err
	}
	for _, c := range kinds {
		page.Groups = append(page.Groups, report.Group{Title: c.title, Why: c.why, Views: c.views(views)})
	}
	for _, c := range doubts {
		page.Groups = append(page.Groups, report.AuditGroup(c.title, c.why, c.views(views)))
	}
	return nil
}

// views returns the views of a choice, each with its evidence.
func (c *choice) views(views map[string]*report.View) []report.View {
	var list []report.View
	for _, id := range c.ids {
		v := *views[id]
		if e := c.evidence[id]; e != "" {
			v.Facts = append([]report.Fact{{Name: "evidence", Value: e}}, v.Facts...)
		}
		list = append(list, v)
	}
	return list
}

// chooseByScore chooses recordings by F1. Of equal scores the recording with more
// sounds comes first, since it says more.
func chooseByScore(d *report.Details) []choice {
	var list []report.Scored
	for _, s := range d.Recordings {
		if !s.Failed && s.Events > 0 && !s.F1().Null() {
			list = append(list, s)
		}
	}
	slices.SortStableFunc(list, func(a, b report.Scored) int {
		return cmp.Or(cmp.Compare(b.F1(), a.F1()), cmp.Compare(b.Events, a.Events))
	})
	n := min(viewsOfAKind, len(list)/3)
	if n == 0 {
		n = min(1, len(list))
	}
	take := func(from int) (ids []string) {
		for _, s := range list[max(from, 0):min(max(from, 0)+n, len(list))] {
			ids = append(ids, s.Recording)
		}
		return ids
	}
	if len(list) < 3 {
		return []choice{{title: "Recordings", why: "All that are scored.", ids: take(0)}}
	}
	worst := take(len(list) - n)
	slices.Reverse(worst)
	return []choice{
		{title: "Best", why: "The highest F1; of equals those with more sounds.", ids: take(0)},
		{title: "Middle", why: "Around the median of F1: what the method usually does.", ids: take(len(list)/2 - n/2)},
		{title: "Worst", why: "The lowest F1. Look whether the method or the reference fails.", ids: worst},
	}
}

// chooseByDoubt chooses recordings with a doubted reference, the first of each
// doubt that are not shown for a graver one.
func chooseByDoubt(a *eval.Audit) []choice {
	var choices []choice
	shown := make(map[string]bool)
	for d := eval.Doubt(0); d < eval.Unusable; d++ {
		c := choice{title: "Reason: " + d.String(), evidence: make(map[string]string)}
		for _, f := range a.Findings {
			if f.Doubt == d && !shown[f.Recording] && len(c.ids) < viewsOfADoubt {
				c.ids = append(c.ids, f.Recording)
				c.evidence[f.Recording] = f.Evidence
				shown[f.Recording] = true
			}
		}
		if len(c.ids) > 0 {
			c.why = fmt.Sprintf("%d of %d recordings listed for this reason.", len(c.ids), a.ByDoubt[d.String()])
			choices = append(choices, c)
		}
	}
	return choices
}

// views gathers states and sounds of the wanted recordings.
func (g *gathering) views(ctx context.Context, wanted map[string]bool, sources []Source) (map[string]*report.View, error) {
	scored := make(map[string]*report.Scored)
	for i := range g.runs[0].details.Recordings {
		s := &g.runs[0].details.Recordings[i]
		scored[s.Recording] = s
	}
	views := make(map[string]*report.View)
	for cases, err := range sideBySide(g.folders()) {
		if err != nil {
			return nil, err
		}
		if id := cases[0].Recording; wanted[id] {
			views[id] = g.view(cases, scored[id])
		}
	}
	if len(sources) == 0 {
		return views, nil
	}
	return views, g.addSounds(ctx, views, wanted, sources)
}

// view returns a recording as the runs see it, without its sound.
func (g *gathering) view(cases []*eval.Case, s *report.Scored) *report.View {
	c := cases[0]
	v := &report.View{Recording: c.Recording, Reference: c.Reference}
	v.From, v.To = report.Window(&c.Reference, c.Length, viewWidth)
	for i := range cases {
		v.Tracks = append(v.Tracks, report.Track{Name: g.runs[i].name, Intervals: cases[i].Predicted})
	}
	fact := func(name, value string) {
		if value != "" {
			v.Facts = append(v.Facts, report.Fact{Name: name, Value: value})
		}
	}
	if s != nil {
		fact("F1", s.F1().Percent()+" %")
		fact("found", fmt.Sprintf("%d of %d", s.TP, s.TP+s.FN))
		fact("false", fmt.Sprint(s.FP))
		if s.Reference.CycleLength > 0 && s.Predicted.CycleLength > 0 {
			fact("beats a minute", fmt.Sprintf("%.0f, predicted %.0f", float64(s.Reference.Rate()), float64(s.Predicted.Rate())))
		}
		if s.Exchanged {
			fact("note", "scores better with S1 and S2 exchanged")
		}
	}
	fact("site", siteOf(c))
	fact("person", c.Person)
	return v
}

// addSounds reads the audio of the wanted recordings, after making sure that it is
// what the run read.
func (g *gathering) addSounds(ctx context.Context, views map[string]*report.View, wanted map[string]bool, sources []Source) error {
	first := g.runs[0]
	j := &job{config: Config{Sources: sources, Channel: first.plan.Config.Channel}}
	defer j.close()
	if err := j.openSources(); err != nil {
		return err
	}
	digests, err := first.digests(wanted)
	if err != nil {
		return err
	}
	l := newListener(j)
	for _, e := range j.entries {
		v := views[e.id]
		if v == nil {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		content, err := e.set.ReadFile(e.recording.Audio)
		if err != nil {
			return fmt.Errorf("recording %s: %w", e.id, err)
		}
		if digests[e.id] != "" && digestOf(content) != digests[e.id] {
			return fmt.Errorf("recording %s: %s is not the file that %s was made from; name the folder with the data of the run with --data", e.id, e.recording.Audio, first.dir)
		}
		if err := l.listen(content, v); err != nil {
			return fmt.Errorf("recording %s: %w", e.id, err)
		}
	}
	for _, id := range sortedIDs(views) {
		if len(views[id].Wave) == 0 {
			return fmt.Errorf("recording %s of %s is not in the data: name the folder and the layout of the run with --data and --layout", id, first.dir)
		}
	}
	return nil
}

func sortedIDs(views map[string]*report.View) []string {
	ids := make([]string, 0, len(views))
	for id := range views {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

// listener turns audio files into what a page shows and plays.
type listener struct {
	decoder  audio.Decoder
	sound    *audio.Resampler
	analysis *audio.Resampler
	wave     *signal.Waveform
	envelope *signal.Homomorphic
}

// The envelope of a page is that of the band and the kind that segmentation uses
// (Schmidt et al. 2010, doi:10.1088/0967-3334/31/4/004, from memory), but smoothed
// at 20 Hz and not at 8, so that the eye sees where a sound begins.
const envelopeCut = 20

func newListener(j *job) *listener {
	l := &listener{
		sound: audio.NewResampler(soundRate), analysis: audio.NewResampler(AnalysisRate),
		wave:     signal.NewWaveform(nil),
		envelope: must(signal.NewHomomorphic(envelopeCut, AnalysisRate)),
	}
	l.decoder.Channel = j.config.Channel
	return l
}

// listen fills in the samples of a view from the content of its audio file.
func (l *listener) listen(content []byte, v *report.View) error {
	clip, err := l.decoder.Decode(bytes.NewReader(content))
	if err != nil {
		return err
	}
	v.To = min(v.To, clip.Duration())
	v.WaveRate, v.EnvelopeRate = soundRate, AnalysisRate
	v.Wave = between(l.sound.Resample(nil, clip.Samples, clip.Rate), soundRate, v.From, v.To)
	v.Envelope = between(l.envelopeOf(clip), AnalysisRate, v.From, v.To)
	return nil
}

// envelopeOf returns the envelope of a whole recording at the rate of analysis.
func (l *listener) envelopeOf(clip *audio.Clip) []float64 {
	l.wave.Set(l.analysis.Resample(nil, clip.Samples, clip.Rate))
	return l.envelope.Smooth(nil, l.wave.Envelope())
}

// between returns the samples of a stretch of time.
func between(x []float64, rate int, from, to time.Duration) []float64 {
	a, b := pcg.ToSamples(from, rate), pcg.ToSamples(to, rate)
	return slices.Clone(x[min(a, len(x)):min(b, len(x))])
}

// siteOf returns where a recording was made, or the empty string.
func siteOf(c *eval.Case) string {
	for _, l := range c.Strata {
		if l.Name == "site" {
			return l.Value
		}
	}
	return ""
}
