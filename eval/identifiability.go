package eval

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"phonocycle/eval/tabular"
)

// IdentifiabilityOptions say how groups of recordings are told apart.
type IdentifiabilityOptions struct {
	By        Grouping // what is told apart
	Folds     int      // by person
	Seed      uint64   // of folds and bootstrap
	Resamples int      // of the bootstrap over people
	L2        float64  // ridge penalty λ
	Top       int      // features to list
}

// DefaultIdentifiabilityOptions returns the options that are used where no other
// are set.
func DefaultIdentifiabilityOptions() IdentifiabilityOptions {
	return IdentifiabilityOptions{By: Grouping{ByDataSet}, Folds: 5, Seed: 1, Resamples: 1000, L2: 1, Top: 10}
}

// Validate reports the first option that cannot be followed.
func (o *IdentifiabilityOptions) Validate() error {
	switch {
	case len(o.By) == 0:
		return fmt.Errorf("by names no property: give one, such as %s", ByDataSet)
	case o.Folds < 2 || o.Folds > maxFolds:
		return fmt.Errorf("folds is %d: want 2 to %d", o.Folds, maxFolds)
	case !(o.L2 > 0) || math.IsInf(o.L2, 0):
		return fmt.Errorf("l2 is %v: the ridge penalty is a number above zero", o.L2)
	case o.Top < 0 || o.Top > maxTop:
		return fmt.Errorf("top is %d: want 0 to %d", o.Top, maxTop)
	}
	return CheckResamples(o.Resamples)
}

// Bounds of the options: a model is fitted for each fold, and the catalogue has
// some hundred features.
const (
	maxFolds = 1000
	maxTop   = 10_000
)

// Identify reports how well the groups of recordings can be told apart by their
// features: by a multinomial logistic regression on standardised features, each
// recording predicted by a model that was not fitted to its person. It calls step
// after each fold.
func Identify(ctx context.Context, m *FeatureMatrix, o IdentifiabilityOptions, step func()) (*Identifiability, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	d := newGroupedFeatures(m)
	if len(d.classes) < 2 {
		return nil, fmt.Errorf("nothing to tell apart: all %d recordings are of %q; run over several data sets, or name a label with --by", len(d.y), d.classes)
	}
	folds, err := Folds(d.people, o.Folds, o.Seed)
	if err != nil {
		return nil, err
	}
	probabilities, err := d.crossValidate(ctx, folds, &o, step)
	if err != nil {
		return nil, err
	}
	r := &Identifiability{
		By: o.By.String(), Folds: o.Folds, Seed: o.Seed, Resamples: o.Resamples, L2: o.L2,
		Features: len(d.names), Dropped: len(m.Names) - len(d.names), Recordings: len(d.x), People: len(d.people), Warnings: []string{},
	}
	d.score(r, probabilities)
	r.Top = d.rate(o.Top)
	if m.LeftOut > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s left out: no features, or no value of %s", tabular.Plural(m.LeftOut, "recording", "recordings"), r.By))
	}
	for _, c := range r.Classes {
		if c.People < r.Folds {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s has %s, fewer than there are folds: its figures say little", c.Name, tabular.Plural(c.People, "person", "people")))
		}
	}
	return r, nil
}

// crossValidate returns the probability of each class, a row per recording, by the
// fit to the folds without its person.
func (d *groupedFeatures) crossValidate(ctx context.Context, folds map[string]int, o *IdentifiabilityOptions, step func()) (*mat.Dense, error) {
	probabilities := mat.NewDense(len(d.x), len(d.classes), nil)
	for fold := range o.Folds {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var train, test [][]float64
		var y, tested []int
		for i, row := range d.x {
			if folds[d.people[d.person[i]].ID] == fold {
				test, tested = append(test, row), append(tested, i)
			} else {
				train, y = append(train, row), append(y, d.y[i])
			}
		}
		scale := scalingOf(train, len(d.names))
		weights, err := fitMultinomial(scale.apply(train), y, len(d.classes), o.L2)
		if err != nil {
			return nil, err
		}
		p := multinomial(scale.apply(test), weights)
		for k, i := range tested {
			probabilities.SetRow(i, p.RawRowView(k))
		}
		step()
	}
	return probabilities, nil
}
