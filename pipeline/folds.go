package pipeline

import (
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/segment"
)

// noFold is the fold of those that are in none.
const noFold = -1

// assignFolds gives every person a fold, by seed and name; see eval.Folds. Each
// fold gets its share of people of every data set and of every value of the
// labels by which its layout stratifies. Where there are fewer people than
// folds, nobody has a fold.
func (j *job) assignFolds() error {
	people := j.people()
	for i := range j.entries {
		j.entries[i].fold = noFold
	}
	k := j.config.Folds
	if k == 0 || (len(people) < k && !j.crossValidates) {
		return nil
	}
	folds, err := eval.Folds(people, k, j.config.FoldSeed)
	if err != nil {
		return err
	}
	for i := range j.entries {
		j.entries[i].fold = int32(folds[j.entries[i].person])
	}
	return nil
}

// people lists the people of the data sets. One whose recordings differ in a
// label by which the layout stratifies, as over the years, counts as in the
// first of them.
func (j *job) people() []eval.Person {
	var people []eval.Person
	seen := map[string]bool{}
	for i := range j.entries {
		e := &j.entries[i]
		if seen[e.person] {
			continue
		}
		seen[e.person] = true
		stratum := []string{e.set.Layout.Name}
		for _, label := range e.set.Layout.Stratify {
			stratum = append(stratum, e.recording.Label(label))
		}
		people = append(people, eval.Person{ID: e.person, Stratum: strings.Join(stratum, "\x1f")})
	}
	return people
}

// foldOf returns the fold of an entry as tables have it.
func (e *entry) foldOf() *int32 {
	if e.fold == noFold {
		return nil
	}
	return ptr(e.fold)
}

// personKey names the person of an entry as models do.
func (e *entry) personKey() string {
	return segment.PersonKey(e.set.Layout.Name, e.recording.Person)
}
