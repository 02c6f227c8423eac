package compare

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/workers"
)

// Comparison says which output folders are compared and how.
type Comparison struct {
	Folders []string // two or more
	Names   []string // of the folders, by default their own, and for [Across] that of the method

	Reference string // that the folders must hold; empty for any

	// Against is the name of the folder with which all others are compared; empty for
	// all pairs. [Across] compares nothing.
	Against string

	// Scoring holds the number of resamples, their seed and, optionally, an anchor or
	// tolerance for all folders. Without these the folders must have been scored by
	// the same rules, which are used.
	Scoring config.Scoring

	Workers int
}

// ErrUnknownRun says that no run has the name in [Comparison].Against.
var ErrUnknownRun = errors.New("no run has this name")

// Run compares the segmentations in two or more output folders on the same
// recordings and references. It scores their states again, so that folders of
// segment can be compared too, and writes nothing.
func Run(ctx context.Context, c Comparison, p workers.Progress) (*eval.Comparison, error) {
	if len(c.Folders) < 2 {
		return nil, errors.New("give two or more folders with --results")
	}
	all, err := Open(c.Folders, c.Names, c.Reference)
	if err != nil {
		return nil, err
	}
	against, err := c.against(all)
	if err != nil {
		return nil, err
	}
	runs, leftOut, err := c.score(ctx, all, p)
	if err != nil {
		return nil, err
	}
	comparison, err := eval.CompareAgainst(runs, against, c.options())
	if err != nil {
		return nil, err
	}
	if leftOut > 0 {
		comparison.Warnings = append(comparison.Warnings, fmt.Sprintf("%d recordings are left out: %s", leftOut, scoring.ReasonOverlap))
	}
	return comparison, nil
}

// Across puts the scores of output folders over several data sets or references into
// a table of methods and data sets, without differences. A folder stands in the row
// of its name. It scores the states again and writes nothing.
func Across(ctx context.Context, c Comparison, p workers.Progress) (*eval.Overview, error) {
	all, err := openEach(c.Folders, c.Names, c.Reference, func(dir string, plan *rundir.Plan) string {
		return cmp.Or(plan.Config.Method, filepath.Base(dir))
	})
	if err != nil {
		return nil, err
	}
	var columns [][]eval.Run
	var leftOut []int
	for _, column := range byDataSet(all) {
		runs, n, err := c.score(ctx, column, p)
		if err != nil {
			return nil, err
		}
		columns, leftOut = append(columns, runs), append(leftOut, n)
	}
	overview, err := eval.NewOverview(columns)
	if err != nil {
		return nil, err
	}
	for i, n := range leftOut {
		overview.Columns[i].LeftOut = n
	}
	return overview, nil
}

// byDataSet groups folders by what they were scored on: the data sets with their
// versions, the reference, and the lists of people and recordings.
func byDataSet(all []*Folder) [][]*Folder {
	type key struct{ dataSet, version, reference, people, recordings string }
	at := make(map[key]int)
	var groups [][]*Folder
	for _, f := range all {
		p := f.Plan.Provenance()
		name, version := f.dataSet()
		k := key{name, version, f.Plan.Reference, p.People, p.Recordings}
		i, ok := at[k]
		if !ok {
			i = len(groups)
			at[k], groups = i, append(groups, nil)
		}
		groups[i] = append(groups[i], f)
	}
	return groups
}

// against returns the name of the run with which all others are compared, as it is
// printed; empty for none.
func (c *Comparison) against(all []*Folder) (string, error) {
	if c.Against == "" {
		return "", nil
	}
	var names []string
	for i, f := range all {
		if f.Name == c.Against || i < len(c.Names) && c.Names[i] == c.Against {
			return f.Name, nil
		}
		names = append(names, f.Name)
	}
	return "", fmt.Errorf("compare against %s: %w; there are %s", c.Against, ErrUnknownRun, strings.Join(names, ", "))
}

// options returns those of the statistics.
func (c *Comparison) options() eval.Options {
	return eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed}
}

// score scores folders on the same recordings and references. It returns how many
// recordings all of them leave out, since their people are in the training data.
func (c *Comparison) score(ctx context.Context, all []*Folder, p workers.Progress) (runs []eval.Run, leftOut int, err error) {
	rules, err := c.rules(all)
	if err != nil {
		return nil, 0, err
	}
	column := Column{Rules: rules, Options: c.options(), Workers: c.Workers}
	for _, f := range all {
		run, err := column.Score(ctx, f, p)
		if err != nil {
			return nil, 0, err
		}
		runs = append(runs, run)
	}
	return runs, column.LeftOut(), nil
}

// rules returns the rules by which the folders are compared.
func (c *Comparison) rules(all []*Folder) (eval.Rules, error) {
	var common eval.Rules
	for i, r := range all {
		rules, err := r.Rules()
		if err != nil {
			return rules, err
		}
		if i == 0 {
			common = rules
		}
		if d := common.Difference(&rules); d != "" && c.Scoring.Anchor == "" && c.Scoring.Tolerance == 0 {
			return rules, fmt.Errorf("compare: runs %s and %s were scored by different rules, %s: set --tolerance and --anchor for all",
				all[0].Name, r.Name, d)
		}
	}
	return scoring.Rules(&c.Scoring, common)
}
