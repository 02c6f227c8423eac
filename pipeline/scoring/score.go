// Package scoring applies the rules of package eval to the recordings of a run,
// in memory or from the tables of an output folder, and writes the tables
// matches and scores and the summary.
package scoring

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"path/filepath"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Scoring scores the tables recordings and states of an output folder.
type Scoring struct {
	From       string // the folder
	Parts      int    // of its tables
	Recordings int    // in them
	Rules      eval.Rules
	Overlap    config.Overlap // what happens to people of the training data
	Tables     *Tables        // where matches and scores go; nil to write none
	Workers    int
}

// scoredPart is the scoring of one part.
type scoredPart struct {
	cases   []eval.Case
	results []eval.Result
	err     error
}

// Each scores all parts on several workers, writes the tables matches and
// scores, and passes each case with its result to do, in the order of
// recordings.
func (s *Scoring) Each(ctx context.Context, p workers.Progress, do func(*eval.Case, *eval.Result)) error {
	if err := s.Rules.Validate(); err != nil {
		return err
	}
	p.Start(rundir.StageScore, s.Recordings)
	defer p.Done()
	return workers.InOrder(ctx, s.Workers, upTo(s.Parts),
		func() *eval.Scorer { return NewScorer(s.Rules) },
		func(_ context.Context, scorer *eval.Scorer, part int) scoredPart { return s.part(scorer, part) },
		func(done scoredPart) error {
			p.Step(len(done.results))
			for i := range done.results {
				do(&done.cases[i], &done.results[i])
			}
			return done.err
		})
}

// Accumulate scores all parts and adds the scores up.
func (s *Scoring) Accumulate(ctx context.Context, c *config.Scoring, p workers.Progress) (*eval.Accumulator, error) {
	acc := NewAccumulator(s.Rules, c)
	acc.Grow(s.Recordings)
	err := s.Each(ctx, p, func(_ *eval.Case, r *eval.Result) { acc.Add(r) })
	return acc, err
}

// NewAccumulator returns an accumulator with the options of a configuration.
func NewAccumulator(rules eval.Rules, c *config.Scoring) *eval.Accumulator {
	return eval.NewAccumulator(rules, eval.Options{Resamples: c.Resamples, Seed: c.Seed, Strata: c.Strata})
}

// NewScorer returns a scorer for one worker. The rules must be valid.
func NewScorer(rules eval.Rules) *eval.Scorer {
	s, err := eval.NewScorer(rules)
	if err != nil {
		panic(err)
	}
	return s
}

// upTo yields 0 … n−1.
func upTo(n int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range n {
			if !yield(i) {
				return
			}
		}
	}
}

// part scores the recordings of one part and writes their rows.
func (s *Scoring) part(scorer *eval.Scorer, part int) scoredPart {
	cases, err := Cases(s.From, part, s.Overlap)
	if err != nil {
		return scoredPart{err: err}
	}
	results := make([]eval.Result, len(cases))
	for i := range cases {
		results[i] = scorer.Score(&cases[i])
	}
	if s.Tables != nil {
		err = s.Tables.write(part, cases, results)
	}
	return scoredPart{cases, results, err}
}

// write writes one part of both tables.
func (t *Tables) write(part int, cases []eval.Case, results []eval.Result) error {
	w, err := t.Create(part)
	if err != nil {
		return err
	}
	defer func() { _ = w.Abort() }()
	for i := range cases {
		if err := w.Append(&cases[i], &results[i]); err != nil {
			return err
		}
	}
	return w.Commit()
}

// Rules returns rules with what c sets of them.
func Rules(c *config.Scoring, rules eval.Rules) (eval.Rules, error) {
	if c.Anchor != "" {
		anchor, err := eval.ParseAnchor(c.Anchor)
		if err != nil {
			return rules, err
		}
		rules.Anchor = anchor
	}
	if c.Tolerance != 0 {
		rules.SetHeadline(time.Duration(c.Tolerance))
	}
	return rules, rules.Validate()
}

// WriteSummary writes the summary of an output folder, into which it first puts how
// the scores arose by the plan, and the warnings of the plan: those about tables of
// the data sets, and that people of the training data are scored.
func WriteSummary(dir string, plan *rundir.Plan, s *eval.Summary) error {
	s.Provenance = plan.Provenance()
	warnings := plan.TableWarnings()
	if s.Provenance.Trained > 0 {
		warnings = plan.Warnings()
	}
	s.Warnings = slices.Insert(s.Warnings, 0, warnings...)
	return rundir.WriteJSON(filepath.Join(dir, rundir.SummaryFile), s)
}

// Written lists what a scoring writes, relative to the output folder.
func Written() []string {
	var m table.Match
	var s table.Score
	return []string{m.Table().Name, s.Table().Name, rundir.SummaryFile}
}

// Score is the third stage of a run alone: it scores the tables in the folder
// states by the rules of c, and writes the tables matches and scores and the
// summary into the output folder.
func Score(ctx context.Context, c config.Config, states string, p workers.Progress) (report *rundir.Report, err error) {
	started := time.Now()
	plan, err := rundir.OpenTables(states)
	if err != nil {
		return nil, err
	}
	if plan.Config.UnreadTables != config.AcceptUnreadTables {
		if err := plan.CheckTables(c.UnreadTables); err != nil {
			return nil, err
		}
	}
	if err := eval.Grouping(c.Scoring.Strata).Check(plan.Labels); err != nil {
		return nil, fmt.Errorf("strata: %w", err)
	}
	if err := rundir.CheckScoring(c.Out, c.Overwrite); err != nil {
		return nil, err
	}
	if err := rundir.Make(c.Out); err != nil {
		return nil, err
	}
	l, _, err := rundir.LockFolder(c.Out, config.Shard{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	report = &rundir.Report{Selected: plan.Selected()}
	if err := report.AddTable(states, io.Discard); err != nil {
		return nil, err
	}
	s := Scoring{From: states, Parts: plan.Parts(), Recordings: report.Counts.In, Overlap: c.Overlap, Workers: c.Workers}
	if s.Rules, err = Rules(&c.Scoring, plan.DefaultRules()); err != nil {
		return nil, err
	}
	c.Scoring.Tolerance = config.Duration(s.Rules.Headline)
	scoringPlan, err := planFor(plan, &c)
	if err != nil {
		return nil, err
	}
	if s.Tables, err = NewTables(c.Out, scoringPlan.Metadata()); err != nil {
		return nil, err
	}
	scores, err := s.Accumulate(ctx, &c.Scoring, workers.OrSilent(p))
	if err != nil {
		return nil, err
	}
	report.Summary = scores.Summary()
	if err := WriteSummary(c.Out, scoringPlan, report.Summary); err != nil {
		return nil, err
	}
	if err := scoringPlan.Write(c.Out, rundir.ScoringFile); err != nil {
		return nil, err
	}
	report.Written = rundir.Paths(c.Out, append(Written(), rundir.ScoringFile))
	report.Elapsed = time.Since(started)
	return report, nil
}

// planFor returns the plan of a scoring by the rules of c of the states that
// plan made.
func planFor(plan *rundir.Plan, c *config.Config) (*rundir.Plan, error) {
	p := *plan
	p.Tool, p.Stage, p.Segmentation = rundir.Tool, rundir.StageScore, plan.Digest
	p.Config.Scoring, p.Config.Overlap = c.Scoring, c.Overlap
	return &p, p.Seal()
}
