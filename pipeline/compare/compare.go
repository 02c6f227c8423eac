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
	all, err := Open(c.Folders, c.Names)
	if err != nil {
		return nil, err
	}
	rules, err := c.rules(all)
	if err != nil {
		return nil, err
	}
	options := eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed}
	runs := make([]eval.Run, len(all))
	var first runInput
	for i, r := range all {
		acc := eval.NewAccumulator(rules, options)
		input := runInput{name: r.Name}
		s := scoring.Scoring{
			From: r.Dir, Parts: r.Plan.Parts(), Recordings: r.Plan.Recordings(),
			Rules: rules, Overlap: r.Plan.Config.Overlap, Workers: c.Workers,
		}
		err := s.Each(ctx, workers.OrSilent(p), func(c *eval.Case, result *eval.Result) {
			input.add(c)
			acc.Add(result)
		})
		if err != nil {
			return nil, err
		}
		if i == 0 {
			first = input
		} else if d := first.difference(&input); d != "" {
			return nil, errors.New("compare: " + d)
		}
		runs[i] = eval.Run{Name: r.Name, Results: acc}
	}
	return eval.Compare(runs, options)
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

// runInput identifies the recordings and references of a run.
type runInput struct {
	name       string
	recordings []string
	references []uint64
}

func (in *runInput) add(c *eval.Case) {
	in.recordings = append(in.recordings, c.Recording)
	in.references = append(in.references, referenceSum(c))
}

// difference names the first recording in which two runs differ, or returns the
// empty string.
func (in *runInput) difference(other *runInput) string {
	for i := range min(len(in.recordings), len(other.recordings)) {
		if in.recordings[i] != other.recordings[i] {
			return fmt.Sprintf("runs %s and %s have different recordings, number %d is %s and %s: run both on the same data",
				in.name, other.name, i+1, in.recordings[i], other.recordings[i])
		}
		if in.references[i] != other.references[i] {
			return fmt.Sprintf("runs %s and %s have different references, first of recording %s: run both on the same version of the data",
				in.name, other.name, in.recordings[i])
		}
	}
	if n, m := len(in.recordings), len(other.recordings); n != m {
		return fmt.Sprintf("runs %s and %s have different recordings, %d and %d: run both on the same data", in.name, other.name, n, m)
	}
	return ""
}
