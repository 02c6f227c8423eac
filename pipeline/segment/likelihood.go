package segment

import "phonocycle/pipeline/simd"

// Likelihood returns the log-probability of the loaded frames under the given
// laws, summed over all paths: the figure by which two sets of laws should be
// compared. The score of the best path alone favours laws that leave fewer
// paths to share the probability.
//
// It is the forward recursion of the same model, see forward. It is −Inf where
// the probability is below the range of a float64, which takes stretches of
// frames that fit no state.
func (d *Decoder) Likelihood(laws *Laws) float64 {
	one := [1]*Laws{laws}
	return d.Likelihoods(one[:])[0]
}

// Likelihoods returns the likelihood of each of the given laws, four in little
// more time than one. The slice is valid until the next call.
func (d *Decoder) Likelihoods(laws []*Laws) []float64 {
	d.likelihoods = d.likelihoods[:0]
	for len(laws) > 0 {
		n := min(simd.Width, len(laws))
		d.quartet.set(laws[:n])
		d.pass.start(d.scaled(), &d.quartet, sumOfPaths)
		for !d.pass.finished {
			d.pass.advance(nil)
		}
		d.likelihoods = append(d.likelihoods, d.pass.score[:n]...)
		laws = laws[n:]
	}
	return d.likelihoods
}

// scaled returns the frames that were loaded as likelihoods.
func (d *Decoder) scaled() *scaledFrames {
	if d.stale {
		d.linear.set(d.cum, d.frames)
		d.stale = false
	}
	return &d.linear
}
