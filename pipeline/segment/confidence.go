package segment

import (
	"math"

	"phonocycle/pipeline/pcg"
)

// normaliseLog shifts logarithms so that the values they stand for add up to
// one.
func normaliseLog(row []float64) {
	largest := math.Inf(-1)
	for _, v := range row {
		largest = math.Max(largest, v)
	}
	sum := 0.0
	for _, v := range row {
		sum += math.Exp(v - largest)
	}
	shift := largest + math.Log(sum)
	for j := range row {
		row[j] -= shift
	}
}

// judge holds a path against the log posteriors of the states, four a frame.
//
// Loudness is the mean over frames of the probability that there is a sound
// where the path has one, S1 or S2, and a silence where it has one. Order is the
// mean of the probability of the path's state less that of the state it would
// become if S1 and S2 were exchanged, systole and diastole likewise: positive
// where the sound speaks for the path, whatever the sojourns say.
func judge(logPosterior []float64, runs []Run) (loudness, order float64) {
	frames := 0
	for _, r := range runs {
		j, k := int(r.State-pcg.S1), int(r.State.Exchanged()-pcg.S1)
		for t := r.Start; t < r.End; t++ {
			own, other := math.Exp(logPosterior[4*t+j]), math.Exp(logPosterior[4*t+k])
			loudness += own + other
			order += own - other
			frames++
		}
	}
	n := float64(frames)
	return math.Min(loudness/n, 1), order / n
}

// exchangeLaw turns a margin m by which the sound speaks for a path rather than
// for the same path with S1 and S2, and systole and diastole, exchanged, into a
// probability,
//
//	P(exchanged) = 1 / (1 + exp(Intercept + Slope·m)).
//
// What the margin is, is the method's.
type exchangeLaw struct {
	Intercept float64 `json:"intercept"`
	Slope     float64 `json:"slope"`
}

func (e exchangeLaw) probability(margin float64) float64 {
	return 1 / (1 + math.Exp(e.Intercept+e.Slope*margin))
}
