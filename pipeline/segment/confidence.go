package segment

import (
	"math"

	"phonocycle/pipeline/pcg"
)

// meanPosterior returns the mean over frames of the probability of the state
// on the path, for states equally probable beforehand and the given
// log-likelihoods, four a frame.
func meanPosterior(logLikelihood []float64, runs []Run) float64 {
	sum, frames := 0.0, 0
	for _, r := range runs {
		j := int(r.State - pcg.S1)
		for t := r.Start; t < r.End; t++ {
			row := logLikelihood[4*t : 4*t+4]
			total := 0.0
			for _, l := range row {
				total += math.Exp(l - row[j])
			}
			sum += 1 / total
			frames++
		}
	}
	return math.Min(sum/float64(frames), 1)
}
