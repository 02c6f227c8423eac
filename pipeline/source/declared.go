package source

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"path/filepath"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
)

// declare notes in the plan of the run what the format or the user says of the people
// that the program learnt from. People of its training data are refused, left out or
// scored as those of a model are.
func (p *Predictions) declare(run *setup.Run, f *dataset.Format) error {
	plan := &run.Plan
	plan.Origin, plan.Config.Method = eval.MadeElsewhere, p.name()
	switch declares := f != nil && f.Training != nil; {
	case declares && p.FoldsFrom != "":
		return fmt.Errorf("format %s declares the training data with fitted-on, and --folds-from does too: leave one of them out", p.Format)
	case p.FoldsFrom != "":
		return p.takeFolds(run)
	case declares:
		return p.takeLists(run, f)
	}
	return nil
}

// takeFolds gives each person the fold of an earlier run.
func (p *Predictions) takeFolds(run *setup.Run) error {
	was, err := rundir.OpenTables(p.FoldsFrom)
	if err != nil {
		return fmt.Errorf("folds: %w", err)
	}
	rows := map[string]table.Recording{}
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](p.FoldsFrom)) {
		if err != nil {
			return fmt.Errorf("folds: %w", err)
		}
		rows[row.Recording] = table.Recording{Person: row.Person, Fold: row.Fold}
	}
	err = run.Corpus.SetFolds(func(e *corpus.Entry) (*int32, error) {
		row, found := rows[e.ID]
		switch {
		case !found:
			return nil, fmt.Errorf("folds: run %s has no recording %s: give the run whose folds were used, over the same data", p.FoldsFrom, e.ID)
		case row.Person != e.Person:
			return nil, fmt.Errorf("folds: recording %s is of person %s here and of %s in run %s: give the run whose folds were used, over the same data", e.ID, e.Person, row.Person, p.FoldsFrom)
		case row.Fold == nil:
			return nil, fmt.Errorf("folds: recording %s has no fold in run %s: give one that crossval wrote", e.ID, p.FoldsFrom)
		}
		return row.Fold, nil
	})
	if err != nil {
		return err
	}
	absolute, err := filepath.Abs(p.FoldsFrom)
	if err != nil {
		return fmt.Errorf("folds: %w", err)
	}
	plan := &run.Plan
	plan.Declared, plan.FoldsFrom = eval.CrossValidated, dataset.Printable(filepath.Base(absolute))
	plan.Config.Folds, plan.Config.FoldSeed = was.Config.Folds, was.Config.FoldSeed
	plan.Segmentation = rundir.Digest([]byte(plan.Segmentation + was.Digest))
	return run.UseTraining(&segment.Model{}, "")
}

// takeLists compares the people of the data with those that a format lists. Where it
// has a list for each fold, a person who stands in all of them is of the training
// data, and one who is missing from one list alone is in that fold.
func (p *Predictions) takeLists(run *setup.Run, f *dataset.Format) error {
	lists, hash := make([]map[string]bool, len(f.Training)), sha256.New()
	for i := range f.Training {
		people, err := p.people(&f.Training[i])
		if err != nil {
			return err
		}
		lists[i] = people
		fmt.Fprintf(hash, "%q\n", slices.Sorted(maps.Keys(people)))
	}
	plan := &run.Plan
	plan.Segmentation = rundir.Digest([]byte(plan.Segmentation + hex.EncodeToString(hash.Sum(nil))))
	switch {
	case f.DeclaresFolds:
		plan.Declared, plan.Config.Folds, plan.Config.FoldSeed = eval.CrossValidated, len(lists), 0
		_ = run.Corpus.SetFolds(func(e *corpus.Entry) (*int32, error) {
			if missing := listsWithout(lists, e.Person); len(missing) == 1 {
				return &missing[0], nil
			}
			return nil, nil
		})
	case len(lists[0]) == 0:
		plan.Declared = eval.NotFitted
		return nil
	default:
		plan.Declared, plan.TrainedOn = eval.FittedElsewhere, eval.TrainedOn{People: len(lists[0])}
	}
	model := &segment.Model{}
	for i := range run.Corpus.Entries {
		if e := &run.Corpus.Entries[i]; len(listsWithout(lists, e.Person)) == 0 {
			model.People = append(model.People, e.PersonKey())
		}
	}
	slices.Sort(model.People)
	return run.UseTraining(model, "the program of these predictions, as its format says,")
}

// listsWithout returns the numbers of the lists in which a person is missing.
func listsWithout(lists []map[string]bool, person string) (missing []int32) {
	for i, list := range lists {
		if !list[person] {
			missing = append(missing, int32(i))
		}
	}
	return missing
}

// people returns the people of a list. A file is named from the folder of the format.
func (p *Predictions) people(l *dataset.TrainingList) (map[string]bool, error) {
	people := map[string]bool{}
	for _, id := range l.People {
		people[id] = true
	}
	if l.List == "" {
		return people, nil
	}
	list := l.List
	if config.IsFile(list) && !filepath.IsAbs(list) {
		list = filepath.Join(filepath.Dir(p.Format), list)
	}
	read, err := config.LoadPeople(list)
	if err != nil {
		return nil, fmt.Errorf("format %s: fitted-on: %w", p.Format, err)
	}
	for _, line := range read.Lines {
		if line.Exclude {
			return nil, fmt.Errorf("format %s: fitted-on: %s:%d: !%s excludes a person: list those to whom the program was fitted", p.Format, read.File, line.Number, line.ID)
		}
		people[line.ID] = true
	}
	return people, nil
}
