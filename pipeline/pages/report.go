package pages

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/workers"
)

// ReportOptions say what a report is made from.
type ReportOptions struct {
	Results   []string       // output folders of run; the first is shown in detail
	Names     []string       // of the folders, by default their own
	Reference string         // that the folders must hold; empty for any
	Inputs    []config.Input // the recordings; without them the page has no sounds
	Sounds    Sounds         // of which recordings the page has the sound, given Inputs; empty for the chosen ones
	Progress  workers.Progress
}

// Report makes the report of one or several runs from their summaries and tables:
// figures, the audit of the references, and all recordings. It reads the tables
// once, and the sounds of all recordings if they are given.
func Report(ctx context.Context, o ReportOptions) (*report.Page, error) {
	page, err := o.page(ctx)
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	return page, nil
}

func (o *ReportOptions) page(ctx context.Context) (*report.Page, error) {
	if len(o.Results) == 0 {
		return nil, errors.New("no results: name the output folder of a run")
	}
	o.Progress, o.Sounds = workers.OrSilent(o.Progress), cmp.Or(o.Sounds, ChosenSounds)
	if err := o.Sounds.Check(); err != nil {
		return nil, err
	}
	b, err := newReportBuilder(o.Results, o.Names, o.Reference)
	if err != nil {
		return nil, err
	}
	if err := b.readTables(ctx, o.Progress); err != nil {
		return nil, err
	}
	page, err := b.page()
	if err != nil {
		return nil, err
	}
	if page.Audit, err = b.auditor.Audit(o.Inputs); err != nil {
		return nil, err
	}
	return page, b.addRecordings(ctx, page, o)
}

// reportBuilder scores all runs again for what their summaries leave out.
type reportBuilder struct {
	folders    []*compare.Folder
	runs       []*scoredRun // of the folders
	auditor    *compare.Auditor
	recordings []report.Recording
}

// newReportBuilder opens the output folders.
func newReportBuilder(folders, names []string, reference string) (*reportBuilder, error) {
	all, err := compare.Open(folders, names, reference)
	if err != nil {
		return nil, err
	}
	b := &reportBuilder{folders: all}
	for _, r := range all {
		run, err := newScoredRun(r)
		if err != nil {
			return nil, err
		}
		b.runs = append(b.runs, run)
		if d := b.runs[0].rules.Difference(&run.rules); d != "" {
			return nil, fmt.Errorf("runs %s and %s were scored by different rules, %s: score one of them again", b.runs[0].Name, run.Name, d)
		}
	}
	b.auditor, err = compare.NewAuditor(all, b.runs[0].rules)
	return b, err
}

// readTables scores and audits every recording, and keeps of each the section that
// the page shows.
func (b *reportBuilder) readTables(ctx context.Context, p workers.Progress) error {
	p.Start("tables", b.folders[0].Plan.Recordings())
	defer p.Done()
	for cases, err := range compare.SideBySide(b.folders, nil) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return err
		}
		b.auditor.Add(cases)
		recording := b.recording(cases)
		for i, r := range b.runs {
			if err := b.sameScored(cases, i); err != nil {
				return err
			}
			result := r.score(*cases[i])
			if len(b.runs) > 1 {
				r.accumulator.Add(&result)
			}
			if i == 0 {
				recording.Describe(&result)
			}
		}
		b.recordings = append(b.recordings, recording)
		p.Step(1)
	}
	for _, r := range b.runs {
		if err := checkCounts(&r.details, &r.summary.HeadlineRow); err != nil {
			return fmt.Errorf("%s: %w", r.Dir, err)
		}
	}
	return nil
}

// sameScored makes sure that run i leaves a recording out of the scores where the
// first run does.
func (b *reportBuilder) sameScored(cases []*eval.Case, i int) error {
	if cases[0].Reference.Empty() {
		return nil
	}
	return compare.CheckLeftOut(b.folders[0], b.folders[i], cases[0].Recording, compare.LeftOut(cases[0]), compare.LeftOut(cases[i]))
}

// recording returns what the page shows of a recording, by all runs.
func (b *reportBuilder) recording(cases []*eval.Case) report.Recording {
	c := cases[0]
	r := report.Recording{View: report.View{Recording: c.Recording, Reference: c.Reference, S1Only: b.runs[0].rules.S1Only}}
	length := c.Length
	if length == 0 { // of audio that cannot be read
		length = c.Reference.End()
	}
	r.From, r.To = report.Window(&c.Reference, length, report.SectionWidth)
	for i, c := range cases {
		r.Tracks = append(r.Tracks, report.Track{Name: b.folders[i].Name, Intervals: c.Predicted, Points: c.PredictedPoints})
	}
	r.Trim()
	return r
}

// page returns the report without recordings.
func (b *reportBuilder) page() (*report.Page, error) {
	page := &report.Page{Title: "Heart sound segmentation: scores"}
	var compared []eval.Run
	for _, r := range b.runs {
		page.Runs = append(page.Runs, report.Run{Name: r.Name, Summary: &r.summary, Details: &r.details, Colophon: r.colophon()})
		compared = append(compared, eval.Run{Name: r.Name, Results: r.accumulator})
	}
	if len(b.runs) > 1 {
		var err error
		if page.Comparison, err = eval.Compare(compared, eval.Options{Seed: b.runs[0].summary.Seed}); err != nil {
			return nil, err
		}
	}
	return page, nil
}

// addRecordings adds all recordings to the page, with their scores and sounds, and
// chooses the best, the median and the worst by score, and those whose reference
// should be reviewed.
func (b *reportBuilder) addRecordings(ctx context.Context, page *report.Page, o *ReportOptions) error {
	scored := make(map[string]*report.ScoredRecording)
	for i := range b.runs[0].details.Recordings {
		s := &b.runs[0].details.Recordings[i]
		scored[s.Recording] = s
	}
	positions, chosen := make(map[string]int), make(map[int]bool)
	for i := range b.recordings {
		r := &b.recordings[i]
		r.Score, positions[r.Recording] = scored[r.Recording], i
	}
	for _, e := range append(examplesOfScores(&b.runs[0].details), examplesOfAudit(page.Audit)...) {
		g := report.Group{Title: e.title, Why: e.why}
		for _, id := range e.ids {
			r := &b.recordings[positions[id]]
			if text := e.evidence[id]; text != "" {
				r.Facts = append(r.Facts, report.Fact{Name: "evidence", Value: text})
			}
			g.Recordings, chosen[positions[id]] = append(g.Recordings, positions[id]), true
		}
		page.Groups = append(page.Groups, g)
	}
	for i := range chosen {
		b.recordings[i].AddFacts()
	}
	page.Recordings = b.recordings
	if len(o.Inputs) == 0 {
		return nil
	}
	return addSounds(ctx, b.recordings, chosen, b.runs[0], o)
}
