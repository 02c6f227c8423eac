package corpus

import (
	"fmt"
	"slices"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/segment"
)

// InTrainingData returns the people among the given entries on whose recordings
// the model was fitted, in order; none without a model.
func (c *Corpus) InTrainingData(model *segment.Model, among func(*Entry) bool) []string {
	if model == nil {
		return nil
	}
	var people []string
	for i := range c.Entries {
		if e := &c.Entries[i]; among(e) && model.Knows(e.PersonKey()) {
			people = append(people, e.Person)
		}
	}
	slices.Sort(people)
	return slices.Compact(people)
}

// CheckTrainingOverlap refuses to score a model on people of its training data,
// unless they are left out of the scores.
func (c *Corpus) CheckTrainingOverlap(run *config.Config, model *segment.Model) error {
	if run.Overlap == config.LeaveOutOverlap {
		return nil
	}
	people := c.InTrainingData(model, func(e *Entry) bool { return e.Recording.Reference != "" })
	if len(people) == 0 {
		return nil
	}
	return fmt.Errorf("the model %s was fitted on recordings of %d of these people, first %s: a score on them says nothing about others; "+
		"score with crossval, leave them out of the scores with --training-overlap leave-out, or use segment and extract, which do not score",
		run.Model, len(people), people[0])
}
