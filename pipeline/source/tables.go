package source

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"iter"
	"math"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Tables takes the states from the tables recordings and states of an output
// folder, which are sorted by recording. It walks both along with the
// recordings of the run.
type Tables struct {
	Dir    string
	Origin string // table.Predicted or table.Reference

	recordings sortedRows[table.Recording]
	states     sortedRows[table.State]
}

func (t *Tables) Open(run *setup.Run) error {
	if t.Origin != table.Predicted && t.Origin != table.Reference {
		return fmt.Errorf("states from %q: want %s or %s", t.Origin, table.Predicted, table.Reference)
	}
	plan, err := rundir.OpenTables(t.Dir)
	if err != nil {
		return err
	}
	if t.Origin == table.Reference && plan.Reference != run.Plan.Reference {
		return fmt.Errorf("%s holds the states of the reference %q, and this run reads %q: give --reference %s",
			t.Dir, plan.Reference, run.Plan.Reference, plan.Reference)
	}
	run.Origin, run.Plan.Segmentation = t.Origin, plan.Digest
	if plan.Points && t.Origin == table.Predicted {
		if run.Plan.Stage != rundir.StageScore {
			return fmt.Errorf("%s holds points, which do not say how long a state lasts: %s needs states with durations", t.Dir, run.Plan.Stage)
		}
		run.Plan.Points = true
	}
	if run.Plan.Stage == rundir.StageScore { // the scores are those of the method
		run.Plan.SegmentedAs(plan)
	}
	if t.Origin == table.Predicted {
		run.Plan.TrainingOverlap = plan.TrainingOverlap
	}
	if len(plan.Selection)+len(run.Plan.Selection) > 0 {
		if err := t.checkSelection(run, plan); err != nil {
			return err
		}
	}
	t.recordings = newSortedRows(t.Dir, func(r *table.Recording) string { return r.Recording })
	t.states = newSortedRows(t.Dir, func(s *table.State) string { return s.Recording })
	return nil
}

// checkSelection makes sure that the folder, which the given plan made, has all
// recordings of a run where lists select those of either. It counts the people of the
// training data anew; scores keep the folds of a cross-validation.
func (t *Tables) checkSelection(run *setup.Run, plan *rundir.Plan) error {
	folds, trained := map[string]*int32{}, map[string]bool{} // by recording, by person
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](t.Dir)) {
		if err != nil {
			return err
		}
		e, ok := run.Corpus.Find(row.Recording)
		if !ok {
			continue
		}
		folds[e.ID] = row.Fold
		if row.PersonInTrainingData != nil && *row.PersonInTrainingData {
			trained[e.Person] = true
		}
	}
	for i := range run.Corpus.Entries {
		id := run.Corpus.Entries[i].ID
		if _, held := folds[id]; !held {
			return fmt.Errorf("%s has %d of the %d recordings of this run, and not %s (it holds: %s): give the lists that it was made with, or lists of some of its recordings, with --people and --recordings",
				t.Dir, len(folds), len(run.Corpus.Entries), id, cmp.Or(plan.Selected(), "all recordings"))
		}
	}
	if t.Origin == table.Predicted {
		run.Plan.TrainingOverlap = len(trained)
	}
	if run.Plan.Stage == rundir.StageScore {
		return run.Corpus.SetFolds(func(e *corpus.Entry) (*int32, error) { return folds[e.ID], nil })
	}
	return nil
}

func (t *Tables) Prepare(context.Context, *setup.Run, workers.Progress) error { return nil }

func (t *Tables) Close() {
	t.recordings.close()
	t.states.close()
}

func (t *Tables) Item(e *corpus.Entry) (Item, error) {
	s, err := t.of(e.ID)
	return Item{Entry: e, input: s}, err
}

func (t *Tables) Worker(*setup.Run) (Func, io.Closer, error) { return t.take, nil, nil }

// take returns the states of a recording and what their method said about it.
func (t *Tables) take(_ context.Context, it Item, _ *corpus.Loaded, row *table.Recording) (States, error) {
	s := it.input
	if s == nil {
		return States{}, fmt.Errorf("the states table has no row with source %s for this recording", t.Origin)
	}
	if s.tooMany {
		return States{}, fmt.Errorf("the states table has more than the %d rows that a recording of this length can have: write it anew with run or segment",
			len(s.Intervals)+len(s.Points))
	}
	row.Method, row.ModelDigest, row.PersonInTrainingData = s.method, s.modelDigest, s.inTrainingData
	row.Confidence, row.ExchangeProbability = s.confidence, s.exchange
	row.CycleLength, row.HeartRate = s.cycleLength, s.heartRate
	return s.States, nil
}

// of returns the segmentation of a recording, nil if the tables have none. Ids
// must be asked for in ascending order.
func (t *Tables) of(id string) (*inputStates, error) {
	s := inputStates{confidence: math.NaN(), exchange: math.NaN(), heartRate: math.NaN()}
	done, most := false, 0
	for row, err := range t.recordings.of(id) {
		if err != nil {
			return nil, err
		}
		done = row.Outcome == table.Done
		if row.Duration != nil {
			most = dataset.MaxRows(*row.Duration)
		}
		if t.Origin == table.Predicted {
			s.method, s.modelDigest, s.inTrainingData = row.Method, row.ModelDigest, row.PersonInTrainingData
			s.confidence, s.exchange = row.Confidence, row.ExchangeProbability
			s.cycleLength, s.heartRate = row.CycleLength, row.HeartRate
		}
	}
	for row, err := range t.states.of(id) {
		if err != nil {
			return nil, err
		}
		if row.Origin != t.Origin || row.IsUnannotated() || (row.IsPoint() && t.Origin == table.Reference) {
			continue
		}
		if len(s.Intervals)+len(s.Points) >= most { // pass over the rest, and let the recording fail
			s.tooMany = true
			continue
		}
		iv, err := row.Interval()
		if err != nil {
			return nil, err
		}
		if row.IsPoint() {
			s.Points = append(s.Points, pcg.Point{At: iv.Start, Sound: iv.State})
		} else {
			s.Intervals = append(s.Intervals, iv)
		}
	}
	if !done || len(s.Intervals)+len(s.Points) == 0 {
		return nil, nil
	}
	return &s, nil
}

// sortedRows walks the rows of a table that are sorted by an id.
type sortedRows[T any] struct {
	next func() (T, error, bool)
	stop func()
	id   func(*T) string
	held *T // read, and beyond the id asked for last
}

func newSortedRows[T table.Row](dir string, id func(*T) string) sortedRows[T] {
	next, stop := iter.Pull2(table.ReadParts[T](table.PartsOf[T](dir)))
	return sortedRows[T]{next: next, stop: stop, id: id}
}

func (s *sortedRows[T]) close() {
	if s.stop != nil {
		s.stop()
	}
}

// of yields the rows of the given id, after passing over those that sort
// before it.
func (s *sortedRows[T]) of(id string) iter.Seq2[*T, error] {
	return func(yield func(*T, error) bool) {
		for {
			if s.held == nil {
				row, err, ok := s.next()
				if err != nil {
					yield(nil, err)
					return
				}
				if !ok {
					return
				}
				s.held = &row
			}
			held := s.held
			switch at := s.id(held); {
			case at > id:
				return
			case at < id:
				s.held = nil
			default:
				s.held = nil
				if !yield(held, nil) {
					return
				}
			}
		}
	}
}
