package segment

import (
	"context"
	"errors"
	"fmt"
	"iter"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// usable yields the examples that can be learnt from until ctx ends, and counts
// those left out: without annotated intervals, or unfit for segmentation. It is
// an error if none can be learnt from.
func usable(ctx context.Context, examples iter.Seq2[Example, error], left *int) iter.Seq2[Example, error] {
	return func(yield func(Example, error) bool) {
		none := true
		for e, err := range examples {
			if err == nil {
				err = ctx.Err()
			}
			if err == nil && (len(e.Reference.Intervals) == 0 || checkInput(e.X) != nil) {
				*left++
				continue
			}
			if none = false; !yield(e, err) || err != nil {
				return
			}
		}
		if none {
			yield(Example{}, errors.New("no annotated recording to fit to"))
		}
	}
}

// annotatedFrames yields those of n frames whose middle an annotated interval
// holds, each with the state of that interval.
func annotatedFrames(n int, reference []pcg.Interval) iter.Seq2[int, pcg.State] {
	return func(yield func(int, pcg.State) bool) {
		k := 0
		for t := range n {
			middle := pcg.FromSamples(int64(t*hop+hop/2), signal.AnalysisRate)
			for k < len(reference) && reference[k].End <= middle {
				k++
			}
			if k < len(reference) && reference[k].Contains(middle) && !yield(t, reference[k].State) {
				return
			}
		}
	}
}

// statePriors returns the share of annotated time in each state.
func statePriors(references [][]pcg.Interval) (p [4]float64, err error) {
	var total float64
	for _, r := range references {
		for _, iv := range r {
			p[iv.State-pcg.S1] += iv.Duration().Seconds()
			total += iv.Duration().Seconds()
		}
	}
	for j := range p {
		if p[j] == 0 {
			return p, fmt.Errorf("no %v in %d references: a state that never occurs cannot be learnt; add recordings, or check the state codes of the layout", pcg.Cycle[j], len(references))
		}
		p[j] /= total
	}
	return p, nil
}
