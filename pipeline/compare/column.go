package compare

import (
	"context"

	"phonocycle/eval"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/workers"
)

// Column scores folders one after the other by the same rules, and makes sure that all
// have the recordings and references of the first.
type Column struct {
	Rules   eval.Rules
	Options eval.Options
	Workers int

	first  *Folder // nil before the first
	inputs []scoredInput
}

// Score scores the states of a folder again. A folder that is refused leaves the column
// as it was.
func (c *Column) Score(ctx context.Context, f *Folder, p workers.Progress) (eval.Run, error) {
	run, err := f.run()
	if err != nil {
		return run, err
	}
	run.Results = eval.NewAccumulator(c.Rules, c.Options)
	run.Results.Grow(f.Plan.Recordings())
	s := scoring.Scoring{
		From: f.Dir, Parts: f.Plan.Parts(), Recordings: f.Plan.Recordings(),
		Rules: c.Rules, Overlap: f.overlap(), Workers: c.Workers,
	}
	var inputs []scoredInput
	err = s.Each(ctx, workers.OrSilent(p), func(c *eval.Case, result *eval.Result) {
		inputs = append(inputs, inputOf(c))
		run.Results.Add(result)
	})
	if err != nil {
		return run, err
	}
	if c.first == nil {
		c.first, c.inputs = f, inputs
	}
	return run, sameInputs(c.first, f, c.inputs, inputs)
}

// LeftOut returns how many recordings all folders leave out, since their people are in
// the training data.
func (c *Column) LeftOut() (n int) {
	for _, in := range c.inputs {
		if in.leftOut {
			n++
		}
	}
	return n
}
