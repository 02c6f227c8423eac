package pages

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
)

// ReportOptions say what a report is made from.
type ReportOptions struct {
	Results []string       // output folders of run; the first is shown in detail
	Names   []string       // of the folders, by default their own
	Inputs  []config.Input // the recordings; without them the page has no sounds
}

// Report makes the report of one or several runs from their summaries and
// tables: figures, the audit of the references, and example recordings. It reads
// the tables once, and once more the parts with the recordings that it shows.
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
	b, err := newReportBuilder(o.Results, o.Names)
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
	runs      []*scoredRun
	folders   []*compare.Folder // of the runs
	auditor   *compare.Auditor
	positions map[string]int // of the recordings in the tables
}

// scoredRun is a run with its summary and manifest, and what a report needs of
// each recording.
type scoredRun struct {
	*compare.Folder
	summary     eval.Summary
	manifest    rundir.Manifest // empty where the run has none
	rules       eval.Rules
	scorer      *eval.Scorer
	accumulator *eval.Accumulator
	details     report.Details
}

// newReportBuilder opens the output folders.
func newReportBuilder(folders, names []string) (*reportBuilder, error) {
	all, err := compare.Open(folders, names)
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

// newScoredRun reads the files beside the tables of an output folder.
func newScoredRun(r *compare.Folder) (*scoredRun, error) {
	run := &scoredRun{Folder: r}
	found, err := r.ReadJSON(rundir.SummaryFile, &run.summary)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, fmt.Errorf("folder %s has no %s: score it first, with score --states", r.Dir, rundir.SummaryFile)
	}
	if _, err := r.ReadJSON(rundir.ManifestFile, &run.manifest); err != nil {
		return nil, err
	}
	if len(run.summary.Scores) == 0 || len(run.summary.Rates) != 2 {
		return nil, fmt.Errorf("%s has no scores or no agreement: score the folder again", filepath.Join(r.Dir, rundir.SummaryFile))
	}
	run.rules = run.summary.Rules.Rules()
	if run.scorer, err = eval.NewScorer(run.rules); err != nil {
		return nil, fmt.Errorf("rules of %s: %w; score the folder again", r.Dir, err)
	}
	run.accumulator = eval.NewAccumulator(run.rules, run.options())
	return run, nil
}

// options returns those of the bootstrap of the run.
func (r *scoredRun) options() eval.Options {
	return eval.Options{Resamples: r.summary.Resamples, Seed: r.summary.Seed}
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

// score scores a case. Like the summary, it leaves out people to whom the method
// was fitted.
func (r *scoredRun) score(c eval.Case) eval.Result {
	if c.Reason == scoring.ReasonOverlap {
		c.Reference = pcg.Reference{}
	}
	result := r.scorer.Score(&c)
	r.details.Add(&result, &r.rules)
	return result
}

// checkCounts makes sure that a summary belongs to the tables beside it.
func checkCounts(d *report.Details, headline *eval.Score) error {
	var tp, fp, fn int
	for i := range d.Recordings {
		tp, fp, fn = tp+d.Recordings[i].TP, fp+d.Recordings[i].FP, fn+d.Recordings[i].FN
	}
	if tp != headline.TP || fp != headline.FP || fn != headline.FN {
		return fmt.Errorf("%s has %d TP, %d FP and %d FN, the states table gives %d, %d and %d: score the folder again",
			rundir.SummaryFile, headline.TP, headline.FP, headline.FN, tp, fp, fn)
	}
	return nil
}

// page returns the report without recordings.
func (b *reportBuilder) page() (*report.Page, error) {
	page := &report.Page{Title: "Heart sound segmentation: scores"}
	var compared []eval.Run
	for _, r := range b.runs {
		page.Runs = append(page.Runs, report.Run{Name: r.Name, Summary: &r.summary, Details: &r.details, Provenance: r.provenance()})
		compared = append(compared, eval.Run{Name: r.Name, Results: r.accumulator})
	}
	if len(b.runs) > 1 {
		var err error
		if page.Comparison, err = eval.Compare(compared, b.runs[0].options()); err != nil {
			return nil, err
		}
	}
	return page, nil
}

// provenance returns what the run was made from.
func (r *scoredRun) provenance() report.Provenance {
	m := &r.manifest
	p := report.Provenance{
		Tool: r.Plan.Tool, Method: r.Plan.Config.Method, Configuration: r.Plan.Config.Title, Citation: r.Plan.Config.Citation,
		Options: string(r.Plan.Options), ConfigDigest: r.Plan.Digest, ModelDigest: r.Plan.ModelDigest, InputDigest: m.InputDigest,
		In: m.Counts.In, Done: m.Counts.Done, Failed: m.Counts.Failed, Excluded: m.Counts.Excluded,
		Warnings: m.Warnings, Started: m.Started, Ended: m.Ended, Platform: m.Platform,
	}
	for _, problem := range m.Problems {
		p.Problems = append(p.Problems, report.Problem(problem))
	}
	for _, s := range r.Plan.DataSets {
		p.DataSets = append(p.DataSets, report.DataSet{
			Name: s.Name, Title: s.Title, Version: s.Version, Citation: s.Citation, Recordings: s.Recordings, ListDigest: s.ListDigest,
		})
	}
	return p
}
