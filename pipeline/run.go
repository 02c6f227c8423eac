package pipeline

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Run segments every recording of the configured data sets, extracts features
// and scores the segmentation, reading each recording once.
func Run(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageRun, source.Method{}, p)
}

// PlanRun returns the plan by which Run would work, and writes nothing.
func PlanRun(c config.Config) (*rundir.Plan, error) { return planOf(c, stageRun, source.Method{}) }

// PlanCrossval returns the plan by which Crossval would work, and writes nothing.
func PlanCrossval(c config.Config) (*rundir.Plan, error) {
	return planOf(c, stageCrossval, source.Folds{})
}

// planOf returns the plan of a stage.
func planOf(c config.Config, s stage, from source.Source) (*rundir.Plan, error) {
	j, err := newJob(c, s, from)
	if err != nil {
		return nil, err
	}
	defer j.close()
	return &j.Plan, nil
}

// Segment is the first stage of Run alone: it writes the tables recordings and
// states.
func Segment(ctx context.Context, c config.Config, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageSegment, source.Method{}, p)
}

// Extract is the second stage of Run alone: it measures the states of the
// given origin ("predicted" or "reference") in the output folder states, and
// writes the tables recordings, cycles and people.
func Extract(ctx context.Context, c config.Config, states, origin string, p workers.Progress) (*rundir.Report, error) {
	return execute(ctx, c, stageExtract, &source.Tables{Dir: states, Origin: origin}, p)
}

// Windows cuts the recordings into windows by the rules of c, with the states of
// the given origin ("predicted" or "reference") in the output folder states,
// and writes the tables recordings and windows.
func Windows(ctx context.Context, c config.Config, states, origin string, p workers.Progress) (*rundir.Report, error) {
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
	if rules.Format == config.FormatParquet {
		rules.Format = "" // the same
	}
	c.Windows = &rules
	return execute(ctx, c, stageWindows, &source.Tables{Dir: states, Origin: origin}, p)
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
	return execute(ctx, c, stageCrossval, source.Folds{}, p)
}

// ScoreStates scores the states that a run left in folder states. Against the
// reference that the folder holds, and for all its recordings, this is
// [scoring.Score]. Another reference, and what lists mean, are read from the
// configured data, and the output folder gets the tables recordings and states, so
// that whatever reads a run reads this reference and these recordings.
func ScoreStates(ctx context.Context, c config.Config, states string, p workers.Progress) (*rundir.Report, error) {
	plan, err := rundir.OpenTables(states)
	if err != nil {
		return nil, err
	}
	c.Reference = cmp.Or(c.Reference, plan.Reference)
	selected := c.People+c.Recordings != ""
	switch same, err := sameFolder(c.Out, states); {
	case c.Reference == plan.Reference && !selected:
		return scoring.Score(ctx, c, states, p)
	case err != nil:
		return nil, err
	case len(c.Inputs) == 0 && selected:
		return nil, errors.New("the people and the recordings of a list are looked up in the data set: give it with --data and --layout")
	case len(c.Inputs) == 0:
		return nil, fmt.Errorf("folder %s holds the reference %q: to score it against %q, give the data set that has it with --data and --layout", states, plan.Reference, c.Reference)
	case same && selected:
		return nil, fmt.Errorf("folder %s holds more than the recordings of the list: give another folder with --out for their scores", states)
	case same:
		return nil, fmt.Errorf("folder %s holds the reference %q: give another folder with --out for scores against %q", states, plan.Reference, c.Reference)
	}
	// What decides which recordings are read, and how they are divided, is as it was.
	was := plan.Config
	was.Inputs, was.Reference, was.Scoring, was.Overlap, was.UnreadTables = c.Inputs, c.Reference, c.Scoring, c.Overlap, c.UnreadTables
	was.People, was.Recordings = c.People, c.Recordings
	was.Out, was.Workers, was.Resume, was.Overwrite = c.Out, c.Workers, c.Resume, c.Overwrite
	return execute(ctx, was, stageScore, &source.Tables{Dir: states, Origin: table.Predicted}, p)
}

// sameFolder reports whether two paths lead to one folder.
func sameFolder(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y), err
}

// ScorePredictions scores the segmentations of another program against the
// references of the configured data, and writes the tables of a run except
// cycles and people. Recordings without a prediction fail and count as missed. A
// prediction for a recording that the data set does not have is an error.
func ScorePredictions(ctx context.Context, c config.Config, of source.Predictions, p workers.Progress) (*rundir.Report, error) {
	if c.Shard.Of > 0 {
		return nil, errors.New("predictions are scored on one machine: leave --shard out")
	}
	return execute(ctx, c, stageScore, &of, p)
}
