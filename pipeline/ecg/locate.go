package ecg

import (
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/signal"
)

// What the package comment says of where an R wave lies.
const (
	locateOrder           = 3
	locateLow, locateHigh = 5, 30 // Hz
	searchReach           = 80 * time.Millisecond
)

// upwards returns the filtered wave, negated where the largest deflection near most
// marks points downwards: where the median of the minima is larger in magnitude than
// that of the maxima.
func upwards(wave []float64, fs float64, marks ...[]int) []float64 {
	var highest, lowest []float64
	for _, detector := range marks {
		for _, at := range detector {
			near := wave[max(0, at-samples(searchReach, fs)):min(len(wave), at+samples(searchReach, fs)+1)]
			highest, lowest = append(highest, slices.Max(near)), append(lowest, slices.Min(near))
		}
	}
	slices.Sort(highest)
	slices.Sort(lowest)
	if signal.Quantile(highest, 0.5) < -signal.Quantile(lowest, 0.5) {
		for i := range wave {
			wave[i] = -wave[i]
		}
	}
	return wave
}

// place returns the R wave near each mark, ascending, each once, in samples of a
// recording of which the wave holds one for each group.
func place(wave []float64, fs float64, group int, marks []int) []int {
	reach := samples(searchReach, fs)
	var waves []int
	for _, at := range marks {
		from := max(0, at-reach)
		top := from + indexOfMax(wave[from:min(len(wave), at+reach+1)])
		waves = append(waves, int(math.Round((vertex(wave, top)+0.5)*float64(group)-0.5)))
	}
	slices.Sort(waves)
	return slices.Compact(waves)
}

// vertex returns where the parabola through y around its maximum at top is highest.
func vertex(y []float64, top int) float64 {
	if top == 0 || top == len(y)-1 {
		return float64(top)
	}
	before, behind := y[top]-y[top-1], y[top]-y[top+1]
	if before < 0 || behind < 0 || before+behind == 0 {
		return float64(top) // the end of the stretch that was searched
	}
	return float64(top) + (before-behind)/(2*(before+behind))
}
