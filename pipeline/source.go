package pipeline

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

// stateSource is where the states of a run come from: a method, the tables of
// another stage, or another program.
type stateSource interface {
	// open opens the source and notes in the plan of the run what it is.
	open(*setup.Run) error

	// prepare does what must be done before the first recording, when the output
	// folder is locked.
	prepare(context.Context, *setup.Run, workers.Progress) error

	// item prepares a recording for a worker. It is called in the order of
	// recordings, from one goroutine.
	item(*corpus.Entry) (item, error)

	// worker returns the function by which one worker gets states, and what the worker
	// closes when it has the last, which may be nil.
	worker(*setup.Run) (statesFunc, io.Closer, error)

	close()
}

// item is a recording on its way to a worker.
type item struct {
	entry *corpus.Entry
	input *inputStates // where the states come from tables; nil if these have none
}

// inputStates is the segmentation of one recording as tables have it.
type inputStates struct {
	predicted
	method, modelDigest  string
	inTrainingData       *bool
	confidence, exchange float64
	cycleLength          *time.Duration
	heartRate            float64
	tooMany              bool // rows for the length of the recording
}

// predicted is what a source says of a recording: intervals, or points where it gives
// no durations.
type predicted struct {
	intervals []pcg.Interval
	points    []pcg.Point
}

// statesFunc returns the states of a recording and fills in what its row says
// about them.
type statesFunc func(ctx context.Context, it item, r *corpus.Loaded, row *table.Recording) (predicted, error)

// byMethod takes the states from a segmentation method.
type byMethod struct{}

func (byMethod) open(*setup.Run) error                                       { return nil }
func (byMethod) prepare(context.Context, *setup.Run, workers.Progress) error { return nil }
func (byMethod) item(e *corpus.Entry) (item, error)                          { return item{entry: e}, nil }
func (byMethod) close()                                                      {}

func (byMethod) worker(run *setup.Run) (statesFunc, io.Closer, error) {
	s, err := run.NewSegmenter()
	if err != nil {
		return nil, nil, err
	}
	return func(ctx context.Context, it item, r *corpus.Loaded, row *table.Recording) (predicted, error) {
		found, err := s.Segment(ctx, it.entry, r, row)
		return predicted{found.Intervals, found.Points}, err
	}, s, nil
}

// byFolds takes the states of each fold from a method fitted to the others.
type byFolds struct{ byMethod }

func (byFolds) prepare(ctx context.Context, run *setup.Run, p workers.Progress) error {
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
