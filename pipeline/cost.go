package pipeline

import (
	"errors"

	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/rundir"
)

// cost returns what this execution has cost.
func (j *job) cost() rundir.Cost {
	c := rundir.Cost{Run: (cputime.Process() - j.began).Seconds(), Recordings: j.made}
	j.Spent.AddTo(&c)
	return c
}

// leaveCost leaves the cost of an execution that ended early to the one that goes on.
// It returns err, and what went wrong beside.
func (j *job) leaveCost(err error) error {
	if !j.stage.needs.Method {
		return err
	}
	return errors.Join(err, rundir.LeaveCost(j.Config.Out, j.Config.Shard, j.cost()))
}

// totalCost returns what all executions cost that made the folder; nil where no method
// segments.
func (j *job) totalCost() *rundir.Cost {
	if !j.stage.needs.Method {
		return nil
	}
	c := rundir.EarlierCost(j.Config.Out, j.Plan.Recordings()-j.made)
	c.Add(j.cost())
	return &c
}
