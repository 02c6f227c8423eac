package pages

import (
	"context"
	"errors"
	"fmt"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
)

// ReportOptions say what a report is made from.
type ReportOptions struct {
	Results   []string       // output folders of run; the first is shown in detail
	Names     []string       // of the folders, by default their own
	Reference string         // that the folders must hold; empty for any
	Inputs    []config.Input // the recordings; without them the page has no sounds
}

// Report makes the report of one or several runs from their summaries and tables:
// figures, the audit of the references, and example recordings. It reads the
// tables once, and once more the parts with the recordings that it shows.
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
	b, err := newReportBuilder(o.Results, o.Names, o.Reference)
	if err != nil {
		return nil, err
	}
	if err := b.readTables(ctx); err != nil {
		return nil, err
	}
	page, err := b.page()
	if err != nil {
		return nil, err
	}
	if page.Audit, err = b.auditor.Audit(o.Inputs); err != nil {
		return nil, err
	}
	return page, b.addExamples(ctx, page, o.Inputs)
}

// reportBuilder scores all runs again for what their summaries leave out.
type reportBuilder struct {
	folders   []*compare.Folder
	runs      []*scoredRun // of the folders
	auditor   *compare.Auditor
	positions map[string]int // of the recordings in the tables
}

// newReportBuilder opens the output folders.
func newReportBuilder(folders, names []string, reference string) (*reportBuilder, error) {
	all, err := compare.Open(folders, names, reference)
	if err != nil {
		return nil, err
	}
	b := &reportBuilder{folders: all, positions: make(map[string]int)}
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

// readTables scores and audits every recording.
func (b *reportBuilder) readTables(ctx context.Context) error {
	for cases, err := range compare.SideBySide(b.folders, nil) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return err
		}
		b.positions[cases[0].Recording] = len(b.positions)
		b.auditor.Add(cases)
		for i, r := range b.runs {
			if err := b.sameScored(cases, i); err != nil {
				return err
			}
			result := r.score(*cases[i])
			if len(b.runs) > 1 {
				r.accumulator.Add(&result)
			}
		}
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

// addExamples adds recordings to the page: the best, the median and the worst by
// score, and those whose reference should be reviewed.
func (b *reportBuilder) addExamples(ctx context.Context, page *report.Page, inputs []config.Input) error {
	byScore, byReason := examplesOfScores(&b.runs[0].details), examplesOfAudit(page.Audit)
	shown := make(map[string]int)
	for _, e := range append(byScore, byReason...) {
		for _, id := range e.ids {
			shown[id] = b.positions[id]
		}
	}
	views, err := b.readViews(ctx, shown)
	if err != nil {
		return err
	}
	if len(inputs) > 0 {
		if err := addSounds(ctx, views, b.runs[0], shown, inputs); err != nil {
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
