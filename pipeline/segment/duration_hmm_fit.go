package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"

	"phonocycle/pipeline/pcg"
)

// durationFitOptions are the choices of fitting duration-hmm: there are none.
type durationFitOptions struct{}

// durationModel is what fitting duration-hmm estimates. Sojourns stay those
// of the paper.
type durationModel struct {
	Emission envelopeDistributions `json:"emission"`
}

func (m *durationModel) check() error { return m.Emission.check() }

// fitDurationHMM is the Fit of the method.
func fitDurationHMM(ctx context.Context, _ any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	distributions, err := estimateEnvelopeDistributions(until(ctx, examples))
	if err != nil {
		return nil, fmt.Errorf("duration-hmm: %w", err)
	}
	for j, g := range distributions.states() {
		how.say("%v: mean %.3f, SD %.3f", pcg.Cycle[j], g.Mean, g.SD)
	}
	return json.Marshal(durationModel{distributions})
}

// until yields the examples until ctx ends, and then its error.
func until(ctx context.Context, examples iter.Seq2[Example, error]) iter.Seq2[Example, error] {
	return func(yield func(Example, error) bool) {
		for e, err := range examples {
			if err == nil {
				err = ctx.Err()
			}
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}
