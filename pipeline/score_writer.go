package pipeline

import (
	"errors"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// scoreWriter writes one part of the tables matches and scores.
type scoreWriter struct {
	matches *table.Writer[table.Match]
	scores  *table.Writer[table.Score]
}

// open begins the given part of the tables matches and scores.
func (s *scoring) open(part int) (*scoreWriter, error) {
	matches, err := s.matches.Create(table.PartsOf[table.Match](s.out).Path(part))
	if err != nil {
		return nil, err
	}
	scores, err := s.scores.Create(table.PartsOf[table.Score](s.out).Path(part))
	if err != nil {
		_ = matches.Abort()
		return nil, err
	}
	return &scoreWriter{matches, scores}, nil
}

// write writes the rows of one recording.
func (w *scoreWriter) write(c *eval.Case, r *eval.Result) error {
	for i := range r.Matches {
		if err := w.matches.Append(matchRow(c, &r.Matches[i]), table.Cells{}); err != nil {
			return err
		}
	}
	for _, row := range scoreRows(c, r.Counts) {
		if err := w.scores.Append(row, table.Cells{}); err != nil {
			return err
		}
	}
	return nil
}

// Commit completes both files.
func (w *scoreWriter) Commit() error {
	if err := w.matches.Commit(); err != nil {
		return err
	}
	return w.scores.Commit()
}

// Abort removes what is not complete.
func (w *scoreWriter) Abort() error { return errors.Join(w.matches.Abort(), w.scores.Abort()) }

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
