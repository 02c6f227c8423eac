package compare

import (
	"context"
	"errors"
	"fmt"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/workers"
)

// Comparison says which output folders are compared and how.
type Comparison struct {
	Folders []string // two or more
	Names   []string // of the folders, by default their own

	Reference string // that the folders must hold; empty for any

	// Scoring holds the number of resamples, their seed and, optionally, an anchor or
	// tolerance for all folders. Without these the folders must have been scored by
	// the same rules, which are used.
	Scoring config.Scoring

	Workers int
}

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
	rules, err := c.rules(all)
	if err != nil {
		return nil, err
	}
	options := eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed}
	runs := make([]eval.Run, len(all))
	inputs := make([][]scoredInput, len(all))
	for i, r := range all {
		acc := eval.NewAccumulator(rules, options)
		s := scoring.Scoring{
			From: r.Dir, Parts: r.Plan.Parts(), Recordings: r.Plan.Recordings(),
			Rules: rules, Overlap: config.LeaveOutOverlap, Workers: c.Workers,
		}
		err := s.Each(ctx, workers.OrSilent(p), func(c *eval.Case, result *eval.Result) {
			inputs[i] = append(inputs[i], inputOf(c))
			acc.Add(result)
		})
		if err != nil {
			return nil, err
		}
		if err := sameInputs(all[0], r, inputs[0], inputs[i]); err != nil {
			return nil, fmt.Errorf("compare: %w", err)
		}
		runs[i] = eval.Run{Name: r.Name, Results: acc}
	}
	comparison, err := eval.Compare(runs, options)
	if err != nil {
		return nil, err
	}
	leftOut := 0
	for _, in := range inputs[0] {
		if in.leftOut {
			leftOut++
		}
	}
	if leftOut > 0 {
		comparison.Warnings = append(comparison.Warnings, fmt.Sprintf("%d recordings are left out: %s", leftOut, scoring.ReasonOverlap))
	}
	return comparison, nil
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
