package pipeline

import (
	"fmt"
	"slices"
)

// reasonKnown is why a recording is left out of the scores.
const reasonKnown = "the method was fitted on recordings of this person"

// checkKnown refuses to score a method on people on whom it was fitted, unless
// they are left out of the scores.
func (j *job) checkKnown() error {
	if !j.scores || j.knows == nil || j.config.Known == LeaveOutKnown {
		return nil
	}
	known := j.knownPeople(func(e *entry) bool { return e.recording.Reference != "" })
	if len(known) == 0 {
		return nil
	}
	return fmt.Errorf("the model %s was fitted on recordings of %d of these people, first %s: a score on them says nothing about others; "+
		"score with crossval, leave them out of the scores with --known-people leave-out, or use segment and extract, which do not score",
		j.config.Model, len(known), known[0])
}

// countKnown returns the number of people of the data sets on whose recordings
// the method was fitted.
func (j *job) countKnown() int {
	if j.knows == nil {
		return 0
	}
	return len(j.knownPeople(func(*entry) bool { return true }))
}

// knownPeople returns the people of the given entries whom the model knows, in
// order.
func (j *job) knownPeople(among func(*entry) bool) []string {
	var known []string
	for i := range j.entries {
		if e := &j.entries[i]; among(e) && j.knows.Knows(e.personKey()) {
			known = append(known, e.person)
		}
	}
	slices.Sort(known)
	return slices.Compact(known)
}

// knowsPerson says whether the method was fitted on recordings of the person of
// an entry; nil where it has no fitted parameters. In a cross-validation the
// model of the person's fold is asked, which by design never was.
func (j *job) knowsPerson(e *entry) *bool {
	switch {
	case j.crossValidates && j.method.Fit != nil:
		return ptr(false)
	case j.knows != nil:
		return ptr(j.knows.Knows(e.personKey()))
	}
	return nil
}
