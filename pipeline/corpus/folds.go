package corpus

import (
	"strings"

	"phonocycle/eval"
)

// noFold is the fold of entries without one.
const noFold = -1

// AssignFolds gives every person a fold, by seed and name; see [eval.Folds].
// Each fold gets its share of people of every data set and of every value of
// the labels by which its layout stratifies. Where there are fewer people than
// folds, nobody has a fold, which is an error where folds are required.
func (c *Corpus) AssignFolds(folds int, seed uint64, required bool) error {
	people := c.people()
	if folds == 0 || (len(people) < folds && !required) {
		return nil
	}
	of, err := eval.Folds(people, folds, seed)
	if err != nil {
		return err
	}
	for i := range c.Entries {
		c.Entries[i].fold = int32(of[c.Entries[i].Person])
	}
	return nil
}

// SetFolds gives each entry the fold that another source says, nil for none.
func (c *Corpus) SetFolds(of func(*Entry) (*int32, error)) error {
	for i := range c.Entries {
		fold, err := of(&c.Entries[i])
		if err != nil {
			return err
		}
		c.Entries[i].fold = noFold
		if fold != nil {
			c.Entries[i].fold = *fold
		}
	}
	return nil
}

// people lists the people of the data sets. Where the recordings of a person
// differ in a label by which the layout stratifies, the first of them counts.
func (c *Corpus) people() []eval.Person {
	var people []eval.Person
	seen := map[string]bool{}
	for i := range c.Entries {
		e := &c.Entries[i]
		if seen[e.Person] {
			continue
		}
		seen[e.Person] = true
		stratum := []string{e.Set.Layout.Name}
		for _, label := range e.Set.Layout.Stratify {
			stratum = append(stratum, e.Recording.Label(label))
		}
		people = append(people, eval.Person{ID: e.Person, Stratum: strings.Join(stratum, "\x1f")})
	}
	return people
}

// Fold returns the fold of the person of an entry, from 0; nil for none.
func (e *Entry) Fold() *int32 {
	if e.fold == noFold {
		return nil
	}
	fold := e.fold
	return &fold
}

// InFold reports whether the person of an entry is in the given fold.
func (e *Entry) InFold(fold int) bool { return int(e.fold) == fold }
