package pages

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/table"
)

// viewWidth is the width of the section of a recording that the report shows: some
// ten beats.
const viewWidth = 8 * time.Second

// readViews returns views of the recordings in shown, which has their positions in
// the tables, without their sounds.
func (b *reportBuilder) readViews(ctx context.Context, shown map[string]int) (map[string]*report.View, error) {
	scored := make(map[string]*report.ScoredRecording)
	for i := range b.runs[0].details.Recordings {
		s := &b.runs[0].details.Recordings[i]
		scored[s.Recording] = s
	}
	positions := make(map[int]bool)
	for _, p := range shown {
		positions[p] = true
	}
	views := make(map[string]*report.View)
	for cases, err := range compare.SideBySide(b.folders, positions) {
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return nil, err
		}
		v := newView(cases[0], b.runs[0].rules.S1Only, scored[cases[0].Recording])
		for i, c := range cases {
			v.Tracks = append(v.Tracks, report.Track{Name: b.folders[i].Name, Intervals: c.Predicted, Points: c.PredictedPoints})
		}
		views[v.Recording] = v
	}
	return views, nil
}

// newView returns the view of a recording without predictions; s is nil for a
// recording without a score.
func newView(c *eval.Case, s1Only bool, s *report.ScoredRecording) *report.View {
	v := &report.View{Recording: c.Recording, Reference: c.Reference, S1Only: s1Only}
	v.From, v.To = report.Window(&c.Reference, c.Length, viewWidth)
	fact := func(name, value string) {
		if value != "" {
			v.Facts = append(v.Facts, report.Fact{Name: name, Value: value})
		}
	}
	if s != nil {
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
	for _, l := range c.Strata {
		if l.Name == "site" {
			fact("site", l.Value)
		}
	}
	fact("person", c.Person)
	return v
}

// addSounds adds the sounds of views, after making sure that the files are those
// that the run read; shown has the positions of the recordings in its tables.
func addSounds(ctx context.Context, views map[string]*report.View, run *scoredRun, shown map[string]int, inputs []config.Input) error {
	data, err := corpus.Open(inputs, corpus.Options{Reference: run.Plan.Reference})
	if err != nil {
		return err
	}
	defer data.Close()
	loader := corpus.NewLoader(&config.Config{Channel: run.Plan.Config.Channel})
	waveforms, err := newWaveforms()
	if err != nil {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(shown)) {
		if err := ctx.Err(); err != nil {
			return err
		}
		e, ok := data.Find(id)
		if !ok {
			return fmt.Errorf("recording %s of %s is not in the data: name the folder and the layout of the run with --data and --layout", id, run.Dir)
		}
		digest, err := audioDigest(run.Folder, id, shown[id])
		if err != nil {
			return err
		}
		row := e.Row()
		loaded, err := loader.Load(e, &row)
		switch {
		case digest != "" && row.AudioDigest != "" && digest != row.AudioDigest:
			return fmt.Errorf("recording %s: %s is not the file that %s was made from; name the folder with the data of the run with --data", id, e.Recording.Audio, run.Dir)
		case err != nil:
			return fmt.Errorf("recording %s: %w", id, err)
		}
		v := views[id]
		v.To = min(v.To, loaded.Clip.Duration())
		if c := run.Plan.Condition; c != nil {
			v.Facts = append(v.Facts, report.Fact{Name: "sound", Value: "as in the file; the run changed it by " + c.Condition})
		}
		sound := waveforms.sound(&loaded)
		v.Sound = sound.Between(v.From, v.To)
		drawn, text := ecgOf(e)
		v.ECG = drawn.Between(v.From, v.To)
		if len(drawn.Wave) == 0 && text != "" {
			v.Facts = append(v.Facts, report.Fact{Name: "ECG", Value: text})
		}
	}
	return nil
}

// audioDigest returns the digest of the audio file of a recording at a position of
// the tables.
func audioDigest(f *compare.Folder, id string, position int) (string, error) {
	part := table.PartsOf[table.Recording](f.Dir).Path(position / f.Plan.Config.PartSize)
	for row, err := range table.Read[table.Recording](part) {
		if err != nil {
			return "", err
		}
		if row.Recording == id {
			return row.AudioDigest, nil
		}
	}
	return "", nil
}
