package pipeline

import (
	"fmt"
	"iter"
	"math"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// givenStates is the segmentation of one recording that another stage or
// program made.
type givenStates struct {
	intervals            []pcg.Interval
	method, modelDigest  string
	knowsPerson          *bool
	confidence, exchange float64
	cycleLength          *time.Duration
	heartRate            float64
}

// statesCursor walks the tables recordings and states of an output folder,
// which are sorted by recording.
type statesCursor struct {
	source     string
	digest     string // of the plan that made the tables
	known      int    // people on whom the method of the states was fitted
	recordings sorted[table.Recording]
	states     sorted[table.State]
}

// sorted walks rows that are sorted by an id.
type sorted[T any] struct {
	next func() (T, error, bool)
	stop func()
	id   func(*T) string
	held *T
}

func newSorted[T table.Row](dir string, id func(*T) string) sorted[T] {
	next, stop := iter.Pull2(table.ReadParts[T](table.PartsOf[T](dir)))
	return sorted[T]{next: next, stop: stop, id: id}
}

// upTo returns the next row whose id does not come after the given one; ok is
// false where there is none.
func (s *sorted[T]) upTo(id string) (row T, ok bool, err error) {
	if s.held == nil {
		row, err, ok := s.next()
		if !ok || err != nil {
			return row, false, err
		}
		s.held = &row
	}
	if s.id(s.held) > id {
		return row, false, nil
	}
	row, s.held = *s.held, nil
	return row, true, nil
}

// openStates opens the tables of folder dir for the states of the given source.
func openStates(dir, source string) (*statesCursor, error) {
	if source != table.Predicted && source != table.Reference {
		return nil, fmt.Errorf("states from %q: want %s or %s", source, table.Predicted, table.Reference)
	}
	plan, err := readPlan(dir)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("folder %s has no %s: give --states a folder that run or segment wrote", dir, planFile)
	}
	known := plan.KnownPeople
	if source == table.Reference {
		known = 0
	}
	return &statesCursor{
		source: source, digest: plan.Digest, known: known,
		recordings: newSorted(dir, func(r *table.Recording) string { return r.Recording }),
		states:     newSorted(dir, func(s *table.State) string { return s.Recording }),
	}, nil
}

// close ends the reading of the tables.
func (c *statesCursor) close() {
	c.recordings.stop()
	c.states.stop()
}

// of returns the segmentation of a recording, nil if the tables have none. Ids
// must be asked for in ascending order.
func (c *statesCursor) of(id string) (*givenStates, error) {
	var g givenStates
	found := false
	for {
		row, ok, err := c.recordings.upTo(id)
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if row.Recording == id {
			found = row.Outcome == table.Done
			g.method, g.modelDigest, g.knowsPerson = row.Method, row.ModelDigest, row.MethodKnowsPerson
			g.confidence, g.exchange = row.Confidence, row.ExchangeProbability
			g.cycleLength, g.heartRate = row.CycleLength, row.HeartRate
		}
	}
	for {
		state, ok, err := c.states.upTo(id)
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if state.Recording != id || state.Source != c.source || state.IsPoint() {
			continue
		}
		iv, err := state.Interval()
		if err != nil {
			return nil, err
		}
		g.intervals = append(g.intervals, iv)
	}
	if !found || len(g.intervals) == 0 {
		return nil, nil
	}
	if c.source == table.Reference {
		g = givenStates{intervals: g.intervals, confidence: math.NaN(), exchange: math.NaN(), heartRate: math.NaN()}
	}
	return &g, nil
}
