package signal

import (
	"math"

	"phonocycle/pipeline/simd"
)

// Evenness returns −Σ p ln p / ln n, p[k] = x[k]/Σ x, the Shannon entropy
// (Shannon 1948, doi 10.1002/j.1538-7305.1948.tb01338.x) of how a quantity is
// spread over n places, over its greatest value: 0 where all of it is in one
// place, 1 where all places have the same. It is NaN for fewer than two places
// and where the total is not positive.
//
// It is computed as (ln total − Σ x ln x / total) / ln n from the logarithms of
// the x ≥ 0 and their total, which the caller has at hand.
func Evenness(x, logs []float64, total float64) float64 {
	if !(total > 0) || len(x) < 2 {
		return math.NaN()
	}
	sum := simd.Dot(x, logs)
	if math.IsNaN(sum) {
		sum = 0
		for k, v := range x {
			if v > 0 { // 0 ln 0 = 0
				sum += v * logs[k]
			}
		}
	}
	// Rounding can leave less than nothing of a single place.
	return max(math.Log(total)-sum/total, 0) / math.Log(float64(len(x)))
}
