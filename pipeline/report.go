package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// PageConfig says of what a report is made.
type PageConfig struct {
	Results []string // output folders of run; the details are those of the first
	Names   []string // of the folders, by default their own
	Sources []Source // where the recordings lie; without them the page has no sounds
}

// ReportPage gathers what the report of one or several runs shows: their
// summaries, what figures need of each recording, the audit of the references, and
// recordings to look at and to hear.
func ReportPage(ctx context.Context, c PageConfig) (*report.Page, error) {
	page, err := c.page(ctx)
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	return page, nil
}

func (c *PageConfig) page(ctx context.Context) (*report.Page, error) {
	if len(c.Results) == 0 {
		return nil, errors.New("no results: name the output folder of a run")
	}
	all, err := openAll(c.Results, c.Names)
	if err != nil {
		return nil, err
	}
	g := &gathering{}
	for _, r := range all {
		run, err := openReported(r)
		if err != nil {
			return nil, err
		}
		g.runs = append(g.runs, run)
	}
	if err := g.walk(ctx); err != nil {
		return nil, err
	}
	audit, err := AuditReferences(ctx, Audit{Folders: c.Results, Names: c.Names, Sources: c.Sources}, nil)
	if err != nil {
		return nil, err
	}
	page, err := g.page()
	if err != nil {
		return nil, err
	}
	page.Audit = audit
	return page, g.show(ctx, page, c.Sources)
}

// reported is the output folder of a run with what stands beside its tables, and
// what a report needs of each recording.
type reported struct {
	*results
	summary     eval.Summary
	manifest    Manifest // empty where the run has none
	rules       eval.Rules
	scorer      *eval.Scorer
	accumulator *eval.Accumulator
	details     report.Details
}

// openReported reads what stands beside the tables of an output folder.
func openReported(r *results) (*reported, error) {
	run := &reported{results: r}
	found, err := readJSON(filepath.Join(r.dir, summaryFile), &run.summary)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, fmt.Errorf("folder %s has no %s: score it first, with score --states", r.dir, summaryFile)
	}
	if _, err := readJSON(filepath.Join(r.dir, manifestFile), &run.manifest); err != nil {
		return nil, err
	}
	if len(run.summary.Scores) == 0 || len(run.summary.Rates) != 2 {
		return nil, fmt.Errorf("%s lacks scores or agreement: score it again", filepath.Join(r.dir, summaryFile))
	}
	if run.rules, err = r.rules(); err != nil {
		return nil, err
	}
	if run.scorer, err = eval.NewScorer(run.rules); err != nil {
		return nil, err
	}
	run.accumulator = eval.NewAccumulator(run.rules, run.options())
	return run, nil
}

// options are those of the bootstrap of the run.
func (r *reported) options() eval.Options {
	return eval.Options{Resamples: r.summary.Resamples, Seed: r.summary.Seed}
}

// readJSON reads a file into v, and says whether it is there.
func readJSON(path string, v any) (bool, error) {
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if err := json.Unmarshal(content, v); err != nil {
		return false, fmt.Errorf("%s: %w; score the folder again", path, err)
	}
	return true, nil
}

// gathering scores all runs again to see what their summaries leave out.
type gathering struct{ runs []*reported }

// folders returns the output folders of the runs.
func (g *gathering) folders() []*results {
	list := make([]*results, len(g.runs))
	for i, r := range g.runs {
		list[i] = r.results
	}
	return list
}

// walk scores every recording of every run.
func (g *gathering) walk(ctx context.Context) error {
	first := g.runs[0]
	for _, r := range g.runs[1:] {
		if d := first.rules.Difference(&r.rules); d != "" {
			return fmt.Errorf("runs %s and %s were scored by different rules, %s: score one of them again", first.name, r.name, d)
		}
	}
	for cases, err := range sideBySide(g.folders()) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return err
		}
		for i, r := range g.runs {
			c := *cases[i]
			if c.Reason == reasonKnown {
				c.Reference = pcg.Reference{} // as the summary leaves it out
			}
			result := r.scorer.Score(&c)
			r.details.Add(&result, &r.rules)
			if len(g.runs) > 1 {
				r.accumulator.Add(&result)
			}
		}
	}
	for _, r := range g.runs {
		if err := agree(&r.details, &r.summary.HeadlineRow); err != nil {
			return fmt.Errorf("%s: %w", r.dir, err)
		}
	}
	return nil
}

// agree makes sure that a summary speaks of the tables beside it.
func agree(d *report.Details, headline *eval.Score) error {
	var tp, fp, fn int
	for i := range d.Recordings {
		tp, fp, fn = tp+d.Recordings[i].TP, fp+d.Recordings[i].FP, fn+d.Recordings[i].FN
	}
	if tp != headline.TP || fp != headline.FP || fn != headline.FN {
		return fmt.Errorf("%s counts %d TP, %d FP and %d FN, the states table gives %d, %d and %d: score it again",
			summaryFile, headline.TP, headline.FP, headline.FN, tp, fp, fn)
	}
	return nil
}

// page returns the report without recordings.
func (g *gathering) page() (*report.Page, error) {
	page := &report.Page{Title: "Heart sounds found and scored"}
	var compared []eval.Run
	for _, r := range g.runs {
		page.Runs = append(page.Runs, report.Run{Name: r.name, Summary: &r.summary, Details: &r.details, Origin: r.origin()})
		compared = append(compared, eval.Run{Name: r.name, Results: r.accumulator})
	}
	if len(g.runs) > 1 {
		var err error
		if page.Comparison, err = eval.Compare(compared, g.runs[0].options()); err != nil {
			return nil, err
		}
	}
	return page, nil
}

// origin says what a run was made from.
func (r *reported) origin() report.Origin {
	m := &r.manifest
	o := report.Origin{
		Tool: r.plan.Tool, Method: r.plan.Config.Method, Configuration: r.plan.Config.Title, Citation: r.plan.Config.Citation,
		Options: string(r.plan.Options), ConfigDigest: r.plan.Digest, ModelDigest: r.plan.ModelDigest, InputDigest: m.InputDigest,
		In: m.Counts.In, Done: m.Counts.Done, Failed: m.Counts.Failed, Excluded: m.Counts.Excluded,
		Warnings: m.Warnings, Started: m.Started, Ended: m.Ended, Platform: m.Platform,
	}
	for _, p := range m.Problems {
		o.Problems = append(o.Problems, report.Problem{Recording: p.Recording, Outcome: p.Outcome, Reason: p.Reason})
	}
	for _, s := range r.plan.Sources {
		o.Sources = append(o.Sources, report.Source{
			Name: s.Name, Title: s.Title, Version: s.Version, Citation: s.Citation, Recordings: s.Recordings, ListDigest: s.ListDigest,
		})
	}
	return o
}

// digests returns the digests of the audio from which the run was made.
func (r *reported) digests(wanted map[string]bool) (map[string]string, error) {
	found := make(map[string]string)
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](r.dir)) {
		if err != nil {
			return nil, err
		}
		if wanted[row.Recording] {
			found[row.Recording] = row.AudioDigest
		}
	}
	return found, nil
}
