package pages

import (
	"cmp"
	"fmt"
	"path/filepath"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
)

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
	if len(run.summary.Scores) == 0 || len(run.summary.Rates) == 0 {
		return nil, fmt.Errorf("%s has no scores or no agreement: score the folder again", filepath.Join(r.Dir, rundir.SummaryFile))
	}
	run.rules = run.summary.Rules.Rules()
	if run.scorer, err = eval.NewScorer(run.rules); err != nil {
		return nil, fmt.Errorf("rules of %s: %w; score the folder again", r.Dir, err)
	}
	run.accumulator = eval.NewAccumulator(run.rules, run.options())
	run.details.RToS1 = rToS1(r.Plan)
	return run, nil
}

// options returns those of the bootstrap of the run.
func (r *scoredRun) options() eval.Options {
	return eval.Options{Resamples: r.summary.Resamples, Seed: r.summary.Seed}
}

// score scores a case. Like the summary, it leaves out people to whom the method
// was fitted, unless they are scored there.
func (r *scoredRun) score(c eval.Case) eval.Result {
	if c.Reason == scoring.ReasonOverlap && r.summary.Provenance.Trained == 0 {
		c.Reference = pcg.Reference{}
	}
	result := r.scorer.Score(&c)
	r.details.Add(&result, &r.rules)
	if b := r.details.RToS1; b != nil && result.Status != eval.Excluded {
		addBeats(b, &c)
	}
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

// colophon returns what the run was made from.
func (r *scoredRun) colophon() report.Colophon {
	m := &r.manifest
	p := report.Colophon{
		Tool: r.Plan.Tool, Configuration: r.Plan.Config.Title, Citation: cmp.Or(r.Plan.Config.Citation, r.Plan.MethodCitation),
		ConfigDigest: r.Plan.Digest, InputDigest: m.InputDigest,
		In: m.Counts.In, Done: m.Counts.Done, Failed: m.Counts.Failed, Excluded: m.Counts.Excluded,
		Warnings: m.Warnings, Started: m.Started, Ended: m.Ended, Platform: m.Platform,
	}
	if m.Cost != nil {
		p.Cost = m.Cost.Words(m.Counts.In)
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
