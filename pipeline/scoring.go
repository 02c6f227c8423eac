package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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

// summaryFile is the name of the summary in an output folder.
const summaryFile = "summary.json"

// scoring scores the parts of an output folder.
type scoring struct {
	from     string      // folder with the tables recordings and states
	out      string      // folder of the tables matches and scores; empty to write none
	known    KnownPeople // what becomes of the scores of people whom the model knows
	rules    eval.Rules
	metadata table.Metadata
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
	p.Start("score", recordings)
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

// clear makes room for the tables matches and scores.
func (s *scoring) clear() error {
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
	return nil
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
	matches, err := table.Create[table.Match](table.PartsOf[table.Match](s.out).Path(part), nil, s.metadata)
	if err != nil {
		return err
	}
	defer matches.Abort()
	scores, err := table.Create[table.Score](table.PartsOf[table.Score](s.out).Path(part), nil, s.metadata)
	if err != nil {
		return err
	}
	defer scores.Abort()
	for i := range cases {
		for j := range results[i].Matches {
			if err := matches.Append(matchRow(&cases[i], &results[i].Matches[j]), table.Cells{}); err != nil {
				return err
			}
		}
		for _, row := range scoreRows(&cases[i], results[i].Counts) {
			if err := scores.Append(row, table.Cells{}); err != nil {
				return err
			}
		}
	}
	if err := matches.Commit(); err != nil {
		return err
	}
	return scores.Commit()
}

// cases reads one part of the tables recordings and states as cases to score.
func (s *scoring) cases(part int) ([]eval.Case, error) {
	reader, err := table.Open[table.Recording](table.PartsOf[table.Recording](s.from).Path(part))
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
	known := map[string]bool{} // recordings of people whom the model knows
	for record, err := range reader.Rows() {
		if err != nil {
			return nil, err
		}
		row := &record.Row
		index[row.Recording] = len(cases)
		cases = append(cases, newCase(row, labels, record.Cells.Labels))
		if row.MethodKnowsPerson != nil && *row.MethodKnowsPerson {
			known[row.Recording] = true
			cases[len(cases)-1].Reason = reasonKnown
		}
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
		if known[row.Recording] && s.known != keepKnown && row.Source == table.Reference {
			if s.known != LeaveOutKnown {
				return nil, fmt.Errorf("recording %s: person %s is among those that the method was fitted on: a score says nothing about others; "+
					"leave such people out of the scores with --known-people leave-out", row.Recording, cases[i].Person)
			}
			continue
		}
		if err := addState(&cases[i], &row); err != nil {
			return nil, err
		}
	}
	return cases, nil
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
	c.Reference.Kind = pcg.ReferenceKind(row.ReferenceKind)
	c.Strata = append(c.Strata, pcg.Label{Name: "source", Value: row.Source}, pcg.Label{Name: "site", Value: row.Site})
	for i, name := range names {
		c.Strata = append(c.Strata, pcg.Label{Name: name, Value: values[i]})
	}
	return c
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

func matchRow(c *eval.Case, m *eval.Match) table.Match {
	row := table.Match{
		Recording: c.Recording, Person: c.Person, Class: m.Class.String(), Source: m.Source.String(),
		Anchor: m.Anchor, Outcome: m.Outcome.String(),
	}
	if m.Paired() {
		row.Partner, row.Delta = ptr(m.Partner), ptr(m.Delta)
	}
	return row
}

func scoreRows(c *eval.Case, counts []eval.Count) []table.Score {
	rows := make([]table.Score, len(counts))
	for i, n := range counts {
		rows[i] = table.Score{
			Recording: c.Recording, Person: c.Person, Class: n.Class.String(), Anchor: n.Anchor.String(),
			ToleranceMS: int32(n.Tolerance / time.Millisecond),
			TP:          int32(n.TP), FP: int32(n.FP), FN: int32(n.FN), Ignored: int32(n.Ignored),
			Precision: float64(eval.Precision(n.TP, n.FP)), Recall: float64(eval.Recall(n.TP, n.FN)), F1: float64(eval.F1(n.TP, n.FP, n.FN)),
		}
	}
	return rows
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
	r.Tool, r.Stage, r.Given = "phonocycle "+Version, "score", p.Digest
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
	if _, err := report.count(states); err != nil {
		return nil, err
	}
	rescoring, err := plan.rescored(&c)
	if err != nil {
		return nil, err
	}
	s := scoring{from: states, out: c.Out, known: c.Known, metadata: rescoring.metadata()}
	if err := s.summarise(ctx, &c, plan.parts(), report, p); err != nil {
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
