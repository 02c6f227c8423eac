package lanes

func addMoments(sums *[3][parts]float64, x []float64, centre float64) {
	if vector && len(x) > 0 {
		addMomentsAVX2(sums, &x[0], len(x), centre)
		return
	}
	addMomentsPortable(sums, x, centre)
}

func takeLimits(lows, highs *[parts]float64, x []float64) {
	if vector && len(x) > 0 {
		takeLimitsAVX2(lows, highs, &x[0], len(x))
		return
	}
	takeLimitsPortable(lows, highs, x)
}

// Both take n values, a multiple of eight.

//go:noescape
func addMomentsAVX2(sums *[3][parts]float64, x *float64, n int, centre float64)

//go:noescape
func takeLimitsAVX2(lows, highs *[parts]float64, x *float64, n int)
