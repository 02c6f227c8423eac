package pipeline

import (
	"sync/atomic"
	"time"

	"golang.org/x/sync/semaphore"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/source"
)

// job is one execution of a stage. The workers share it and change none of it
// but abandoned and memory.
type job struct {
	*setup.Run
	stage   stage
	source  source.Source
	outputs []output // that of the recordings first

	began time.Duration // processor time before the execution
	made  int           // recordings whose parts this execution has completed

	grace     time.Duration       // of a method after its time limit, see worker
	abandoned atomic.Int32        // processors left behind, see worker
	memory    *semaphore.Weighted // of long recordings in bytes, see worker
}

// newJob prepares a stage and seals its plan.
func newJob(c config.Config, s stage, from source.Source) (*job, error) {
	run, err := setup.New(c, s.name, s.needs)
	if err != nil {
		return nil, err
	}
	j := &job{Run: run, stage: s, source: from, grace: defaultGrace, memory: semaphore.NewWeighted(longMemory)}
	if err = from.Open(run); err == nil {
		err = j.Plan.Seal()
	}
	if err == nil {
		err = j.makeOutputs()
	}
	if err != nil {
		j.close()
		return nil, err
	}
	return j, nil
}

// makeOutputs makes the outputs of the stage.
func (j *job) makeOutputs() error {
	outputs := j.stage.outputs
	if (j.Plan.Points || j.Config.NoFeatures) && j.stage.scored != nil {
		outputs = j.stage.scored
	}
	for _, newOutput := range outputs {
		o, err := newOutput(j.Run)
		if err != nil {
			return err
		}
		j.outputs = append(j.outputs, o)
	}
	return nil
}

// close releases the folders and tables that the job reads.
func (j *job) close() {
	j.Close()
	j.source.Close()
}

// bounds returns the recordings [first, end) of a part.
func (j *job) bounds(part int) (first, end int) {
	size, n := j.Config.PartSize, len(j.Corpus.Entries)
	return min(part*size, n), min((part+1)*size, n)
}
