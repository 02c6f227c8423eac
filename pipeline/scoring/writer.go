package scoring

import (
	"errors"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// Tables are the tables matches and scores of one output folder.
type Tables struct {
	dir     string
	matches *table.Format[table.Match]
	scores  *table.Format[table.Score]
}

// NewTables makes room for both tables in folder dir: parts that stand there are
// removed.
func NewTables(dir string, meta table.Metadata) (t *Tables, err error) {
	for _, f := range []table.Parts{table.PartsOf[table.Match](dir), table.PartsOf[table.Score](dir)} {
		if err := f.Make(); err != nil {
			return nil, err
		}
		if err := f.Clear(); err != nil {
			return nil, err
		}
	}
	t = &Tables{dir: dir}
	if t.matches, err = table.NewFormat[table.Match](nil, meta); err != nil {
		return nil, err
	}
	t.scores, err = table.NewFormat[table.Score](nil, meta)
	return t, err
}

// Writer writes one part of both tables.
type Writer struct {
	matches *table.Writer[table.Match]
	scores  *table.Writer[table.Score]
}

// Create begins the given part.
func (t *Tables) Create(part int) (*Writer, error) {
	matches, err := t.matches.Create(table.PartsOf[table.Match](t.dir).Path(part))
	if err != nil {
		return nil, err
	}
	scores, err := t.scores.Create(table.PartsOf[table.Score](t.dir).Path(part))
	if err != nil {
		_ = matches.Abort()
		return nil, err
	}
	return &Writer{matches, scores}, nil
}

// Append writes the rows of one recording.
func (w *Writer) Append(c *eval.Case, r *eval.Result) error {
	for i := range r.Matches {
		if err := w.matches.Append(matchRow(c, &r.Matches[i]), table.DynamicValues{}); err != nil {
			return err
		}
	}
	for _, row := range scoreRows(c, r.Counts) {
		if err := w.scores.Append(row, table.DynamicValues{}); err != nil {
			return err
		}
	}
	return nil
}

// Seal completes the content of both files.
func (w *Writer) Seal() error {
	if err := w.matches.Seal(); err != nil {
		return err
	}
	return w.scores.Seal()
}

// Commit gives both files their names.
func (w *Writer) Commit() error {
	if err := w.matches.Commit(); err != nil {
		return err
	}
	return w.scores.Commit()
}

// Abort removes what is not complete.
func (w *Writer) Abort() error { return errors.Join(w.matches.Abort(), w.scores.Abort()) }

func matchRow(c *eval.Case, m *eval.Match) table.Match {
	row := table.Match{
		Recording: c.Recording, Person: c.Person, Class: m.Class.String(), Origin: m.Source.String(),
		Anchor: m.Anchor, Outcome: m.Outcome.String(),
	}
	if m.Paired() {
		partner, delta := m.Partner, m.Delta
		row.Partner, row.Delta = &partner, &delta
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
