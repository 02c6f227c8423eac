package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"path/filepath"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// scoringFile is the name of the plan by which the stage score alone made the
// tables matches and scores.
const scoringFile = "scoring.json"

// stageScore is the name of the stage of Score and ScorePredictions in a plan.
const stageScore = "score"

// summaryFile is the name of the summary in an output folder.
const summaryFile = "summary.json"

// scoring scores the parts of an output folder.
type scoring struct {
	from     string      // folder with the tables recordings and states
	out      string      // folder of the tables matches and scores; empty to write none
	known    KnownPeople // what becomes of the scores of people whom the model knows
	rules    eval.Rules
	metadata table.Metadata

	matches *table.Format[table.Match]
	scores  *table.Format[table.Score]
}

// scoredPart is what the scoring of one part gives.
type scoredPart struct {
	cases   []eval.Case
	results []eval.Result
	err     error
}

// score scores the parts 0 … parts−1 on several workers, writes the tables
// matches and scores, and hands each case with its result to each, in the order
// of recordings.
func (s *scoring) score(ctx context.Context, parts, recordings, workers int, p Progress, each func(*eval.Case, *eval.Result)) error {
	if err := s.clear(); err != nil {
		return err
	}
	p.Start(stageScore, recordings)
	defer p.Done()
	return inOrder(ctx, workers, upTo(parts),
		func() *eval.Scorer { return must(eval.NewScorer(s.rules)) },
		func(_ context.Context, scorer *eval.Scorer, part int) scoredPart { return s.scorePart(scorer, part) },
		func(done scoredPart) error {
			p.Step(len(done.results))
			for i := range done.results {
				each(&done.cases[i], &done.results[i])
			}
			return done.err
		})
}

// accumulate scores the parts and adds the scores up.
func (s *scoring) accumulate(ctx context.Context, c *Config, parts, recordings int, p Progress) (*eval.Accumulator, error) {
	acc := newAccumulator(s.rules, c)
	acc.Grow(recordings)
	err := s.score(ctx, parts, recordings, c.Workers, p, func(_ *eval.Case, r *eval.Result) { acc.Add(r) })
	return acc, err
}

// newAccumulator returns what adds scores up as a configuration says.
func newAccumulator(rules eval.Rules, c *Config) *eval.Accumulator {
	return eval.NewAccumulator(rules, eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed, Strata: c.Scoring.Strata})
}

// clear makes room for the tables matches and scores.
func (s *scoring) clear() (err error) {
	if s.out == "" {
		return nil
	}
	for _, f := range []table.Parts{table.PartsOf[table.Match](s.out), table.PartsOf[table.Score](s.out)} {
		if err := f.Make(); err != nil {
			return err
		}
		if err := f.Clear(); err != nil {
			return err
		}
	}
	if s.matches, err = table.NewFormat[table.Match](nil, s.metadata); err != nil {
		return err
	}
	s.scores, err = table.NewFormat[table.Score](nil, s.metadata)
	return err
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

// must returns v where an error was ruled out before.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// scorePart scores the recordings of one part and writes their rows.
func (s *scoring) scorePart(scorer *eval.Scorer, part int) scoredPart {
	cases, err := s.cases(part)
	if err != nil {
		return scoredPart{err: err}
	}
	results := make([]eval.Result, len(cases))
	for i := range cases {
		results[i] = scorer.Score(&cases[i])
	}
	if s.out != "" {
		err = s.write(part, cases, results)
	}
	return scoredPart{cases, results, err}
}

// write writes the rows of one part.
func (s *scoring) write(part int, cases []eval.Case, results []eval.Result) error {
	w, err := s.open(part)
	if err != nil {
		return err
	}
	defer func() { _ = w.Abort() }()
	for i := range cases {
		if err := w.write(&cases[i], &results[i]); err != nil {
			return err
		}
	}
	return w.Commit()
}

// cases reads one part of the tables recordings and states as cases to score.
func (s *scoring) cases(part int) ([]eval.Case, error) {
	reader, err := table.OpenWithout[table.Recording](table.Float, table.PartsOf[table.Recording](s.from).Path(part))
	if err != nil {
		return nil, err
	}
	var labels []string
	for _, c := range reader.Columns() {
		if c.Kind == table.Category {
			labels = append(labels, c.Name)
		}
	}
	var cases []eval.Case
	index := map[string]int{}
	var known []bool // by case
	for record, err := range reader.Rows() {
		if err != nil {
			return nil, err
		}
		row := &record.Row
		index[row.Recording] = len(cases)
		cases = append(cases, newCase(row, labels, record.Cells.Labels))
		known = append(known, knownIn(row))
	}
	for row, err := range table.Read[table.State](table.PartsOf[table.State](s.from).Path(part)) {
		if err != nil {
			return nil, err
		}
		i, ok := index[row.Recording]
		if !ok {
			return nil, fmt.Errorf("%s: recording %s is not in the recordings table of the same part",
				table.PartsOf[table.State](s.from).Path(part), row.Recording)
		}
		if err := s.add(&cases[i], known[i], &row); err != nil {
			return nil, err
		}
	}
	return cases, nil
}

// caseOf returns the case of a recording from its rows, which are still in
// memory.
func (s *scoring) caseOf(row *table.Recording, names, values []string, states []table.State) (eval.Case, error) {
	c, known := newCase(row, names, values), knownIn(row)
	for i := range states {
		if err := s.add(&c, known, &states[i]); err != nil {
			return c, err
		}
	}
	return c, nil
}

// knownIn reports whether a recording is of a person whom the model knows.
func knownIn(row *table.Recording) bool {
	return row.MethodKnowsPerson != nil && *row.MethodKnowsPerson
}

// newCase returns the case of a recording without its states.
func newCase(row *table.Recording, names, values []string) eval.Case {
	c := eval.Case{
		Recording: row.Recording, Person: row.Person,
		Failed: row.Outcome != table.Done, Reason: row.Reason,
	}
	if row.Outcome == table.Done {
		c.Reason = row.ReferenceNote
	}
	if row.Duration != nil {
		c.Length = *row.Duration
	}
	if knownIn(row) {
		c.Reason = reasonKnown
	}
	c.Reference.Kind = pcg.ReferenceKind(row.ReferenceKind)
	c.Strata = append(c.Strata, pcg.Label{Name: eval.ByDataSet, Value: row.Source}, pcg.Label{Name: eval.BySite, Value: row.Site})
	for i, name := range names {
		c.Strata = append(c.Strata, pcg.Label{Name: name, Value: values[i]})
	}
	return c
}

// add adds a row of the states table to the case of its recording, but for the
// reference of a person whom the model knows.
func (s *scoring) add(c *eval.Case, known bool, row *table.State) error {
	if !known || s.known == keepKnown || row.Source != table.Reference {
		return addState(c, row)
	}
	if s.known == LeaveOutKnown {
		return nil
	}
	return fmt.Errorf("recording %s: person %s is among those that the method was fitted on: a score says nothing about others; "+
		"leave such people out of the scores with --known-people leave-out", row.Recording, c.Person)
}

// addState adds a row of the states table to the case of its recording.
func addState(c *eval.Case, row *table.State) error {
	iv, err := row.Interval()
	if err != nil {
		return err
	}
	switch {
	case row.Source == table.Predicted:
		c.Predicted = append(c.Predicted, iv)
	case row.IsPoint():
		c.Reference.Points = append(c.Reference.Points, pcg.Point{At: iv.Start, Sound: iv.State})
	default:
		c.Reference.Intervals = append(c.Reference.Intervals, iv)
	}
	return nil
}

// rulesOf returns the scoring rules of a configuration.
func rulesOf(c *Config) (eval.Rules, error) {
	return c.Scoring.over(eval.DefaultRules())
}

// over returns rules with what s sets of them.
func (s *Scoring) over(rules eval.Rules) (eval.Rules, error) {
	if s.Anchor != "" {
		anchor, err := eval.ParseAnchor(s.Anchor)
		if err != nil {
			return rules, err
		}
		rules.Anchor = anchor
	}
	if s.Tolerance != 0 {
		rules.SetHeadline(time.Duration(s.Tolerance))
	}
	return rules, rules.Validate()
}

// rescored returns the plan of a scoring by the rules of c of the states that p
// made.
func (p *Plan) rescored(c *Config) (*Plan, error) {
	r := *p
	r.Tool, r.Stage, r.Given = tool, stageScore, p.Digest
	r.Config.Scoring, r.Config.Known = c.Scoring, c.Known
	return &r, r.seal()
}

// writeSummary writes the summary of an output folder.
func writeSummary(dir string, s *eval.Summary) error {
	content, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	return table.WriteFileAtomic(filepath.Join(dir, summaryFile), append(content, '\n'))
}

// Score is the third stage of Run alone: it scores the tables in the folder
// states by the rules of c, and writes the tables matches and scores and the
// summary into the output folder.
func Score(ctx context.Context, c Config, states string, p Progress) (report *Report, err error) {
	started := time.Now()
	p = orSilent(p)
	plan, err := readPlan(states)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: give --states a folder that run or segment wrote", states, planFile)
	}
	if err := makeOut(c.Out); err != nil {
		return nil, err
	}
	l, _, err := lockFolder(c.Out, Shard{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.release()) }()
	report = &Report{}
	if err := report.count(states, io.Discard); err != nil {
		return nil, err
	}
	rescoring, err := plan.rescored(&c)
	if err != nil {
		return nil, err
	}
	s := scoring{from: states, out: c.Out, known: c.Known, metadata: rescoring.metadata()}
	if s.rules, err = rulesOf(&c); err != nil {
		return nil, err
	}
	scores, err := s.accumulate(ctx, &c, plan.parts(), report.Counts.In, p)
	if err != nil {
		return nil, err
	}
	report.Summary = scores.Summary()
	if err := writeSummary(c.Out, report.Summary); err != nil {
		return nil, err
	}
	if err := rescoring.write(c.Out, scoringFile); err != nil {
		return nil, err
	}
	for _, name := range []string{"matches", "scores", summaryFile, scoringFile} {
		report.Written = append(report.Written, filepath.Join(c.Out, name))
	}
	report.Elapsed = time.Since(started)
	return report, nil
}
