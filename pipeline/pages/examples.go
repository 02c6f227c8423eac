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

const (
	// viewWidth is the width of the section of a recording that the report shows:
	// some ten beats.
	viewWidth = 8 * time.Second

	// examplesByScore is how many recordings are shown as best, median and worst.
	examplesByScore = 3

	// examplesByReason is how many recordings are shown for one reason of the audit.
	examplesByReason = 2
)

// exampleGroup is a group of recordings that are shown for one reason.
type exampleGroup struct {
	title, why string
	ids        []string
	evidence   map[string]string // of the audit, by recording
}

// addExamples adds recordings to the page: the best, the median and the worst by
// score, and those whose reference should be reviewed.
func (b *reportBuilder) addExamples(ctx context.Context, page *report.Page, inputs []config.Input) error {
	byScore, byReason := examplesOfScores(&b.runs[0].details), examplesOfAudit(page.Audit)
	views := make(map[string]*report.View)
	for _, e := range slices.Concat(byScore, byReason) {
		for _, id := range e.ids {
			views[id] = nil
		}
	}
	if err := b.readViews(ctx, views); err != nil {
		return err
	}
	if len(inputs) > 0 {
		if err := b.addSounds(ctx, views, inputs); err != nil {
			return err
		}
	}
	for _, e := range byScore {
		page.Examples = append(page.Examples, e.group(views))
	}
	for _, e := range byReason {
		page.Audited = append(page.Audited, e.group(views))
	}
	return nil
}

// group returns the views of the examples, each with its evidence.
func (e *exampleGroup) group(views map[string]*report.View) report.Group {
	g := report.Group{Title: e.title, Why: e.why}
	for _, id := range e.ids {
		v := *views[id]
		if text := e.evidence[id]; text != "" {
			v.Facts = append([]report.Fact{{Name: "evidence", Value: text}}, v.Facts...)
		}
		g.Views = append(g.Views, v)
	}
	return g
}

// examplesOfScores chooses recordings by F1. Of equal scores the recording with
// more sounds comes first.
func examplesOfScores(d *report.Details) []exampleGroup {
	var list []report.ScoredRecording
	for _, s := range d.Recordings {
		if !s.Failed && s.Events > 0 && !s.F1().Null() {
			list = append(list, s)
		}
	}
	slices.SortStableFunc(list, func(a, b report.ScoredRecording) int {
		return cmp.Or(cmp.Compare(b.F1(), a.F1()), cmp.Compare(b.Events, a.Events))
	})
	n := min(examplesByScore, max(1, len(list)/3), len(list))
	take := func(from int) (ids []string) {
		for _, s := range list[from : from+n] {
			ids = append(ids, s.Recording)
		}
		return ids
	}
	if len(list) < 3 {
		return []exampleGroup{{title: "Recordings", why: "The recordings with a score.", ids: take(0)}}
	}
	worst := take(len(list) - n)
	slices.Reverse(worst)
	return []exampleGroup{
		{title: "Best", why: "Highest F1; of equal ones those with more sounds.", ids: take(0)},
		{title: "Median", why: "F1 around the median: the usual result of the method.", ids: take(len(list)/2 - n/2)},
		{title: "Worst", why: "Lowest F1. The error can be in the prediction or in the reference.", ids: worst},
	}
}

// examplesOfAudit chooses recordings of the audit: of each reason the first ones
// that are not shown for a more serious reason.
func examplesOfAudit(a *eval.Audit) []exampleGroup {
	var list []exampleGroup
	shown := make(map[string]bool)
	for d := eval.Doubt(0); d < eval.Unusable; d++ {
		e := exampleGroup{title: "Reason: " + d.String(), evidence: make(map[string]string)}
		for _, f := range a.Findings {
			if f.Doubt == d && !shown[f.Recording] && len(e.ids) < examplesByReason {
				e.ids = append(e.ids, f.Recording)
				e.evidence[f.Recording] = f.Evidence
				shown[f.Recording] = true
			}
		}
		if len(e.ids) > 0 {
			e.why = fmt.Sprintf("Shown: %d of the recordings with this reason, %d in all.", len(e.ids), a.ByDoubt[d.String()])
			list = append(list, e)
		}
	}
	return list
}

// readViews reads the segmentations of the recordings that are keys of views.
func (b *reportBuilder) readViews(ctx context.Context, views map[string]*report.View) error {
	scored := make(map[string]*report.ScoredRecording)
	for i := range b.runs[0].details.Recordings {
		s := &b.runs[0].details.Recordings[i]
		scored[s.Recording] = s
	}
	positions := make(map[int]bool)
	for id := range views {
		positions[b.positions[id]] = true
	}
	for cases, err := range compare.SideBySide(b.folders, positions) {
		if err = cmp.Or(err, ctx.Err()); err != nil {
			return err
		}
		id := cases[0].Recording
		views[id] = b.view(cases, scored[id])
	}
	return nil
}

// view returns the view of a recording without its sound; s is nil for a recording
// without a score.
func (b *reportBuilder) view(cases []*eval.Case, s *report.ScoredRecording) *report.View {
	c := cases[0]
	v := &report.View{Recording: c.Recording, Reference: c.Reference}
	v.From, v.To = report.Window(&c.Reference, c.Length, viewWidth)
	for i := range cases {
		v.Tracks = append(v.Tracks, report.Track{Name: b.runs[i].Name, Intervals: cases[i].Predicted})
	}
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

// addSounds adds the sounds of recordings, after making sure that their files are
// those that the run read.
func (b *reportBuilder) addSounds(ctx context.Context, views map[string]*report.View, inputs []config.Input) error {
	first := b.runs[0]
	data, err := corpus.Open(inputs)
	if err != nil {
		return err
	}
	defer data.Close()
	loader := corpus.NewLoader(&config.Config{Channel: first.Plan.Config.Channel})
	waveforms, err := newWaveforms()
	if err != nil {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(views)) {
		if err := ctx.Err(); err != nil {
			return err
		}
		e, ok := data.Find(id)
		if !ok {
			return fmt.Errorf("recording %s of %s is not in the data: name the folder and the layout of the run with --data and --layout", id, first.Dir)
		}
		digest, err := audioDigest(first.Folder, id, b.positions[id])
		if err != nil {
			return err
		}
		row := e.Row()
		loaded, err := loader.Load(e, &row)
		switch {
		case digest != "" && row.AudioDigest != "" && digest != row.AudioDigest:
			return fmt.Errorf("recording %s: %s is not the file that %s was made from; name the folder with the data of the run with --data", id, e.Recording.Audio, first.Dir)
		case err != nil:
			return fmt.Errorf("recording %s: %w", id, err)
		}
		v := views[id]
		v.To = min(v.To, loaded.Clip.Duration())
		sound := waveforms.sound(&loaded)
		v.Sound = sound.Between(v.From, v.To)
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
