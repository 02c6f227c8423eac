package segment

import (
	"fmt"
	"iter"
	"math"

	"phonocycle/pipeline/pcg"
)

// labelFrames writes to dst the state of each of n frames by the annotated
// interval that holds its middle, Unannotated where there is none.
func labelFrames(dst []pcg.State, n int, reference []pcg.Interval) []pcg.State {
	dst = grow(dst, n)
	k := 0
	for t := range dst {
		middle := pcg.FromSamples(int64(t*hop+hop/2), Rate)
		for k < len(reference) && reference[k].End <= middle {
			k++
		}
		dst[t] = pcg.Unannotated
		if k < len(reference) && reference[k].Contains(middle) {
			dst[t] = reference[k].State
		}
	}
	return dst
}

// EstimateEnvelopeLaws estimates the emission laws of duration-hmm from
// annotated recordings: mean and standard deviation of the observation over
// all frames of each state. Recordings without intervals, and those that
// cannot be segmented, are left out.
func EstimateEnvelopeLaws(examples iter.Seq2[Example, error]) (EnvelopeLaws, error) {
	var (
		n, sum, squares [4]float64
		envelope        []float64
		labels          []pcg.State
	)
	f := newFrontEnd()
	for e, err := range examples {
		if err != nil {
			return EnvelopeLaws{}, err
		}
		if len(e.Reference.Intervals) == 0 || f.load(e.X, Rate) != nil {
			continue
		}
		envelope = f.homomorphicFrames(envelope)
		standardLog(envelope)
		labels = labelFrames(labels, len(envelope), e.Reference.Intervals)
		for t, s := range labels {
			if s == pcg.Unannotated {
				continue
			}
			j := s - pcg.S1
			n[j]++
			sum[j] += envelope[t]
			squares[j] += envelope[t] * envelope[t]
		}
	}
	return envelopeLaws(n, sum, squares)
}

// envelopeLaws turns counts, sums and sums of squares into laws.
func envelopeLaws(n, sum, squares [4]float64) (EnvelopeLaws, error) {
	var g [4]Gaussian
	for j := range g {
		if n[j] < 2 {
			return EnvelopeLaws{}, fmt.Errorf("%w: %.0f frames of %v", ErrFewCycles, n[j], pcg.Cycle[j])
		}
		mean := sum[j] / n[j]
		g[j] = Gaussian{Mean: mean, SD: math.Sqrt(squares[j]/n[j] - mean*mean)}
	}
	return EnvelopeLaws{S1: g[0], Systole: g[1], S2: g[2], Diastole: g[3]}, nil
}

// statePriors returns the share of annotated time in each state.
func statePriors(references []personReference) (p [4]float64, err error) {
	var total float64
	for _, r := range references {
		for _, iv := range r.intervals {
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
