package segment

import (
	"math"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/simd"
)

// normaliseLogs shifts each four logarithms so that the values they stand for add
// up to one. It returns work, grown to what it takes.
func normaliseLogs(rows, work []float64) []float64 {
	n := len(rows) / 4
	work = grow(work, 5*n)
	values, sums := work[:4*n], work[4*n:]
	for t := 0; t < len(rows); t += 4 {
		row, shifted := rows[t:t+4:t+4], values[t:t+4:t+4]
		largest := max(row[0], row[1], row[2], row[3])
		for j, v := range row {
			row[j] = v - largest
			shifted[j] = row[j]
		}
	}
	simd.Exp(values, values)
	for t := range sums {
		v := values[4*t : 4*t+4 : 4*t+4]
		sums[t] = v[0] + v[1] + v[2] + v[3]
	}
	simd.Log(sums, sums)
	for t, shift := range sums {
		row := rows[4*t : 4*t+4 : 4*t+4]
		for j := range row {
			row[j] -= shift
		}
	}
	return work
}

// assessment says how far the posteriors p of the states agree with a path. It
// holds means over frames, in which j is the state of the path and k the state
// that it would become if S1 and S2, and systole and diastole, were exchanged.
type assessment struct {
	own      float64 // p[j]
	loudness float64 // p[j] + p[k]: a sound where the path has one, a silence where it has one
	order    float64 // p[j] − p[k]: positive where the sound speaks for the path
	margin   float64 // ln p[j] − ln p[k], likewise
}

// assess holds a path against the log posteriors of the states, four per frame.
func assess(logPosterior []float64, runs []hsmm.Run) (a assessment) {
	for _, r := range runs {
		j, k := r.State-pcg.S1, r.State.Exchanged()-pcg.S1
		for t := r.Start; t < r.End; t++ {
			row := logPosterior[4*t : 4*t+4]
			own, other := math.Exp(row[j]), math.Exp(row[k])
			a.own += own
			a.loudness += own + other
			a.order += own - other
			a.margin += row[j] - row[k]
		}
	}
	n := float64(len(logPosterior) / 4)
	return assessment{math.Min(a.own/n, 1), math.Min(a.loudness/n, 1), a.order / n, a.margin / n}
}

// exchangeRegression turns a margin m by which the sound speaks for a path rather than
// for the same path with S1 and S2, and systole and diastole, exchanged, into a
// probability,
//
//	P(exchanged) = 1 / (1 + exp(Intercept + Slope·m)).
//
// What the margin is, is the method's.
type exchangeRegression struct {
	Intercept float64 `json:"intercept"`
	Slope     float64 `json:"slope"`
}

func (e exchangeRegression) probability(margin float64) float64 {
	return 1 / (1 + math.Exp(e.Intercept+e.Slope*margin))
}

func (e exchangeRegression) check() error {
	return checkRanges(valueRange{"exchange.intercept", e.Intercept, -maxWeight, maxWeight}, valueRange{"exchange.slope", e.Slope, -maxWeight, maxWeight})
}
