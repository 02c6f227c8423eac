package pipeline

import (
	"context"

	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
	"phonocycle/pipeline/workers"
)

// stateSource is where the states of a run come from: a method, the tables of
// another stage, or another program.
type stateSource interface {
	// open opens the source and notes in the plan of the job what it is.
	open(*job) error

	// prepare does what must be done before the first recording, when the output
	// folder is locked.
	prepare(context.Context, *job, workers.Progress) error

	// item prepares a recording for a worker. It is called in the order of
	// recordings, from one goroutine.
	item(*corpus.Entry) (item, error)

	// worker returns the function by which one worker gets states.
	worker(*job) (statesFunc, error)

	close()
}

// statesFunc returns the states of a recording and fills in what its row says
// about them.
type statesFunc func(ctx context.Context, it item, r *corpus.Loaded, row *table.Recording) ([]pcg.Interval, error)

// byMethod takes the states from a segmentation method.
type byMethod struct{}

func (byMethod) open(*job) error                                       { return nil }
func (byMethod) prepare(context.Context, *job, workers.Progress) error { return nil }
func (byMethod) item(e *corpus.Entry) (item, error)                    { return item{entry: e}, nil }
func (byMethod) close()                                                {}

func (byMethod) worker(j *job) (statesFunc, error) {
	s, err := j.NewSegmenter()
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context, it item, r *corpus.Loaded, row *table.Recording) ([]pcg.Interval, error) {
		return s.Segment(ctx, it.entry, r, row)
	}, nil
}

// byFolds takes the states of each fold from a method fitted to the others.
type byFolds struct{ byMethod }

func (byFolds) prepare(ctx context.Context, j *job, p workers.Progress) error {
	models, err := train.Folds(ctx, j.Run, p)
	if err != nil {
		return err
	}
	if models != nil {
		j.UseFolds(models)
		j.written = append(j.written, rundir.ModelsFolder)
	}
	return nil
}
