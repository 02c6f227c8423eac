package pipeline

import (
	"context"
	"errors"
	"fmt"

	"phonocycle/eval"
)

// Comparison says which output folders are compared, and how.
type Comparison struct {
	Folders []string // two or more
	Names   []string // of the folders, by default their own

	// Scoring holds the number of resamples and their seed and, where it names an
	// anchor or a tolerance, the rules by which all folders are scored. Without, they
	// are those by which the folders were scored, which must be the same.
	Scoring Scoring

	Workers int
}

// Compare compares the segmentations in two or more output folders, of run,
// crossval or score with predictions, on the same recordings and references. It
// scores their states anew, so that a folder that segment wrote can take part,
// and writes nothing.
func Compare(ctx context.Context, c Comparison, p Progress) (*eval.Comparison, error) {
	if len(c.Folders) < 2 {
		return nil, errors.New("give two or more folders with --results")
	}
	all, err := openAll(c.Folders, c.Names)
	if err != nil {
		return nil, err
	}
	rules, err := c.rules(all)
	if err != nil {
		return nil, err
	}
	options := eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed}
	runs := make([]eval.Run, len(all))
	var first basis
	for i, r := range all {
		acc := eval.NewAccumulator(rules, options)
		b := basis{name: r.name}
		s := scoring{from: r.dir, known: r.plan.Config.Known, rules: rules}
		err := s.score(ctx, r.plan.parts(), r.plan.recordings(), c.Workers, orSilent(p), func(c *eval.Case, result *eval.Result) {
			b.add(c)
			acc.Add(result)
		})
		if err != nil {
			return nil, err
		}
		if i == 0 {
			first = b
		} else if d := first.difference(&b); d != "" {
			return nil, errors.New("compare: " + d)
		}
		runs[i] = eval.Run{Name: r.name, Results: acc}
	}
	return eval.Compare(runs, options)
}

// rules returns the rules by which the folders are compared.
func (c *Comparison) rules(all []*results) (eval.Rules, error) {
	var common eval.Rules
	for i, r := range all {
		rules, err := r.rules()
		if err != nil {
			return rules, err
		}
		if i == 0 {
			common = rules
		}
		if d := common.Difference(&rules); d != "" && c.Scoring.Anchor == "" && c.Scoring.Tolerance == 0 {
			return rules, fmt.Errorf("compare: runs %s and %s were scored by different rules, %s: set --tolerance and --anchor for all",
				all[0].name, r.name, d)
		}
	}
	return c.Scoring.over(common)
}

// basis identifies the recordings and references of a run.
type basis struct {
	name       string
	recordings []string
	references []uint64
}

func (b *basis) add(c *eval.Case) {
	b.recordings = append(b.recordings, c.Recording)
	b.references = append(b.references, referenceSum(c))
}

// difference names the first recording in which two runs differ, or returns the
// empty string.
func (b *basis) difference(other *basis) string {
	for i := range min(len(b.recordings), len(other.recordings)) {
		if b.recordings[i] != other.recordings[i] {
			return fmt.Sprintf("runs %s and %s are not on the same recordings, number %d is %s against %s: run both on the same data",
				b.name, other.name, i+1, b.recordings[i], other.recordings[i])
		}
		if b.references[i] != other.references[i] {
			return fmt.Sprintf("runs %s and %s have other references, the first of recording %s: run both on the same version of the data",
				b.name, other.name, b.recordings[i])
		}
	}
	if n, m := len(b.recordings), len(other.recordings); n != m {
		return fmt.Sprintf("runs %s and %s are not on the same recordings, %d against %d: run both on the same data", b.name, other.name, n, m)
	}
	return ""
}
