// Package source gives a run the states of its recordings: those that a method finds,
// those of the tables of another stage, or those that another program made. Each
// [Source] notes in the plan of the run where they come from and, where it is known,
// on whom the method was fitted.
package source

import (
	"context"
	"io"
	"time"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
	"phonocycle/pipeline/workers"
)

// Source is where the states of a run come from: a method, the tables of
// another stage, or another program.
type Source interface {
	// Open opens the source and notes in the plan of the run what it is.
	Open(*setup.Run) error

	// Prepare does what must be done before the first recording, when the output
	// folder is locked.
	Prepare(context.Context, *setup.Run, workers.Progress) error

	// Item prepares a recording for a worker. It is called in the order of
	// recordings, from one goroutine.
	Item(*corpus.Entry) (Item, error)

	// Worker returns the function by which one worker gets states, and what the worker
	// closes when it has the last, which may be nil.
	Worker(*setup.Run) (Func, io.Closer, error)

	Close()
}

// Item is a recording on its way to a worker.
type Item struct {
	Entry *corpus.Entry
	input *inputStates // where the states come from tables; nil if these have none
}

// inputStates is the segmentation of one recording as tables have it.
type inputStates struct {
	States
	method, modelDigest  string
	inTrainingData       *bool
	confidence, exchange float64
	cycleLength          *time.Duration
	heartRate            float64
	tooMany              bool // rows for the length of the recording
}

// States is what a source says of a recording: intervals, or points where it gives
// no durations.
type States struct {
	Intervals []pcg.Interval
	Points    []pcg.Point
}

// Func returns the states of a recording and fills in what its row says
// about them.
type Func func(ctx context.Context, it Item, r *corpus.Loaded, row *table.Recording) (States, error)

// Method takes the states from a segmentation method.
type Method struct{}

func (Method) Open(*setup.Run) error                                       { return nil }
func (Method) Prepare(context.Context, *setup.Run, workers.Progress) error { return nil }
func (Method) Item(e *corpus.Entry) (Item, error)                          { return Item{Entry: e}, nil }
func (Method) Close()                                                      {}

func (Method) Worker(run *setup.Run) (Func, io.Closer, error) {
	s, err := run.NewSegmenter()
	if err != nil {
		return nil, nil, err
	}
	return func(ctx context.Context, it Item, r *corpus.Loaded, row *table.Recording) (States, error) {
		found, err := s.Segment(ctx, it.Entry, r, row)
		return States{found.Intervals, found.Points}, err
	}, s, nil
}

// Folds takes the states of each fold from a method fitted to the others.
type Folds struct{ Method }

func (Folds) Prepare(ctx context.Context, run *setup.Run, p workers.Progress) error {
	models, err := train.Folds(ctx, run, p)
	if err != nil {
		return err
	}
	if models != nil {
		run.UseFolds(models)
		run.Written = append(run.Written, rundir.ModelsFolder)
	}
	return nil
}
