package pipeline

import (
	"context"

	"phonocycle/eval"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// scoresOutput is the tables matches and scores, and the summary.
type scoresOutput struct {
	run    *setup.Run
	labels []string // names
	rules  eval.Rules
	tables *scoring.Tables
	sum    *eval.Accumulator // of all recordings; nil where parts were there before
}

// scored is a recording as it enters the scores, with its score.
type scored struct {
	of     eval.Case
	result eval.Result
	err    error
}

func newScores(run *setup.Run) (output, error) {
	rules, err := scoring.Rules(&run.Config.Scoring, run.Plan.DefaultRules())
	return &scoresOutput{run: run, labels: scoring.LabelNames(run.Labels), rules: rules}, err
}

func (o *scoresOutput) names() []string { return scoring.Written() }

// parts is empty: where a shard made parts, finish scores them all again.
func (o *scoresOutput) parts() []table.Parts { return nil }

func (o *scoresOutput) begin(whole bool) (err error) {
	if !whole {
		return nil
	}
	o.sum = scoring.NewAccumulator(o.rules, &o.run.Config.Scoring)
	o.sum.Grow(len(o.run.Corpus.Entries))
	o.tables, err = scoring.NewTables(o.run.Config.Out, o.run.Plan.Metadata())
	return err
}

func (o *scoresOutput) newScore() func(*result) any {
	scorer := scoring.NewScorer(o.rules)
	return func(r *result) any {
		s := &scored{}
		subject := scoring.Subject{Row: &r.row, Labels: r.labels, Predicted: r.Intervals, PredictedPoints: r.Points, Reference: r.reference}
		if s.of, s.err = subject.Case(o.labels, o.run.Config.Overlap); s.err == nil {
			s.result = scorer.Score(&s.of)
		}
		return s
	}
}

func (o *scoresOutput) open(part int) (partFile, error) {
	if o.tables == nil {
		return nil, nil
	}
	w, err := o.tables.Create(part)
	if err != nil {
		return nil, err
	}
	return &scoresFile{w, o.sum}, nil
}

// finish writes the summary. Where not all recordings have passed, it scores
// the tables.
func (o *scoresOutput) finish(ctx context.Context, report *rundir.Report, p workers.Progress) (err error) {
	c := &o.run.Config
	if o.sum == nil {
		s := scoring.Scoring{
			From: c.Out, Parts: o.run.Plan.Parts(), Recordings: report.Counts.In, Rules: o.rules, Overlap: c.Overlap, Workers: c.Workers,
		}
		if s.Tables, err = scoring.NewTables(c.Out, o.run.Plan.Metadata()); err != nil {
			return err
		}
		if o.sum, err = s.Accumulate(ctx, &c.Scoring, p); err != nil {
			return err
		}
	}
	report.Summary = o.sum.Summary()
	return scoring.WriteSummary(c.Out, &o.run.Plan, report.Summary)
}

func (o *scoresOutput) abort() {}

// scoresFile is one part of the tables matches and scores.
type scoresFile struct {
	*scoring.Writer
	sum *eval.Accumulator
}

func (f *scoresFile) append(_ *result, value any) error {
	s := value.(*scored)
	if s.err != nil {
		return s.err
	}
	f.sum.Add(&s.result)
	return f.Append(&s.of, &s.result)
}
