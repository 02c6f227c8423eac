package pipeline

import (
	"fmt"
	"slices"

	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
)

// stage is a part of the work that can be done alone: what it needs, and the
// outputs that it writes, that of the recordings first.
type stage struct {
	name    string
	needs   setup.Needs
	outputs []newOutput

	// scored are the outputs where no features are measured: the states are points, which
	// have no durations, or no features are wanted. nil where they are the same.
	scored []newOutput

	// notShared says why the stage cannot be shared by several machines; empty
	// where it can.
	notShared string
}

// The stages, as plans name them.
var (
	stageRun = stage{
		name: "run", needs: setup.Needs{Method: true, Scores: true},
		outputs: []newOutput{newMeasuredRecordings, newStates, newCycles, newPeople, newScores},
		scored:  []newOutput{newRecordings, newStates, newScores},
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
		scored:    []newOutput{newRecordings, newStates, newScores},
		notShared: "a cross-validation, which one machine makes without shards: complete it with crossval --resume",
	}
	stageScore = stage{
		name: rundir.StageScore, needs: setup.Needs{Scores: true},
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
