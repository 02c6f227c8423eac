//go:build !amd64

package lanes

func addMoments(sums *[3][parts]float64, x []float64, centre float64) {
	addMomentsPortable(sums, x, centre)
}

func takeLimits(lows, highs *[parts]float64, x []float64) { takeLimitsPortable(lows, highs, x) }
