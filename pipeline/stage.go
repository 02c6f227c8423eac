package pipeline

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/workers"
)

// stage is a part of the work that can be done alone: what it needs, and the
// outputs that it writes, that of the recordings first.
type stage struct {
	name    string
	needs   setup.Needs
	outputs []newOutput

	// notShared says why the stage cannot be shared by several machines; empty
	// where it can.
	notShared string
}

// The stages, as plans name them.
var (
	stageRun = stage{
		name: "run", needs: setup.Needs{Method: true, Scores: true},
		outputs: []newOutput{newMeasuredRecordings, newStates, newCycles, newPeople, newScores},
	}
	stageSegment = stage{
		name: "segment", needs: setup.Needs{Method: true},
		outputs: []newOutput{newRecordings, newStates},
	}
	stageExtract = stage{
		name:    "extract",
		outputs: []newOutput{newMeasuredRecordings, newCycles, newPeople},
	}
	stageWindows = stage{
		name:    "windows",
		outputs: []newOutput{newRecordings, newWindows},
	}
	stageCrossval = stage{
		name: rundir.StageCrossval, needs: setup.Needs{Method: true, Fit: true, Folds: true, Scores: true},
		outputs:   []newOutput{newMeasuredRecordings, newStates, newCycles, newPeople, newScores},
		notShared: "a cross-validation, which one machine makes without shards: complete it with crossval --resume",
	}
	stageScore = stage{
		name:      rundir.StageScore,
		outputs:   []newOutput{newRecordings, newStates, newScores},
		notShared: "the scores of another program's segmentations, which one machine makes without shards: complete it with score --resume",
	}
)

// stages are all stages that write tables.
var stages = []stage{stageRun, stageSegment, stageExtract, stageWindows, stageCrossval, stageScore}

// stageNamed returns the stage of a plan.
func stageNamed(name string) (stage, error) {
	i := slices.IndexFunc(stages, func(s stage) bool { return s.name == name })
	if i < 0 {
		return stage{}, fmt.Errorf("stage %q is not one that this version knows", name)
	}
	return stages[i], nil
}

// Run segments every recording of the configured data sets, extracts features
// and scores the segmentation, reading each recording once.
func Run(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageRun, byMethod{}, p)
}

// Segment is the first stage of Run alone: it writes the tables recordings and
// states.
func Segment(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageSegment, byMethod{}, p)
}

// Extract is the second stage of Run alone: it measures the states of the
// given source ("predicted" or "reference") in the output folder states, and
// writes the tables recordings, cycles and people.
func Extract(ctx context.Context, c config.Config, states, source string, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageExtract, &fromTables{dir: states, source: source}, p)
}

// Windows cuts the recordings into windows by the rules of c, with the states of
// the given source ("predicted" or "reference") in the output folder states,
// and writes the tables recordings and windows.
func Windows(ctx context.Context, c config.Config, states, source string, p workers.Progress) (*rundir.Report, error) {
	rules := config.DefaultWindowRules()
	if c.Windows != nil {
		rules = *c.Windows
	}
	if err := rules.Check(); err != nil {
		return nil, err
	}
	if rules.Align == config.AlignCycle {
		rules.Hop = 0 // has no meaning, and must not make two plans differ
	}
	c.Windows = &rules
	return execute(ctx, c, stageWindows, &fromTables{dir: states, source: source}, p)
}

// Crossval cross-validates a method by person: people are split into folds, the
// method is fitted to all folds but one, and the recordings of that one are
// segmented with the parameters found, for each fold in turn. It writes the
// tables of Run, in which every recording was segmented by a model that was
// not fitted on its person, and the model of each fold. A method without
// parameters to fit is scored as it is.
func Crossval(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
	if c.Shard.Of > 0 {
		return nil, errors.New("a cross-validation cannot be shared by several machines: leave --shard out")
	}
	if c.Folds < 2 {
		return nil, fmt.Errorf("folds is %d: a cross-validation needs at least 2", c.Folds)
	}
	return execute(ctx, c, stageCrossval, byFolds{}, p)
}

// ScorePredictions scores the segmentations of another program against the
// references of the configured data, and writes the tables of a run except
// cycles and people. Recordings without a prediction fail and count as missed. A
// prediction for a recording that the data set does not have is an error.
func ScorePredictions(ctx context.Context, c config.Config, of Predictions, p workers.Progress) (*rundir.Report, error) {
	if c.Shard.Of > 0 {
		return nil, errors.New("predictions are scored on one machine: leave --shard out")
	}
	return execute(ctx, c, stageScore, &of, p)
}
