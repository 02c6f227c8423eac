package segment

import (
	"cmp"
	"math"
	"slices"

	"phonocycle/pipeline/signal"
)

// Limits of the systolic interval in the autocorrelation. Schmidt et al. 2010
// search from 0.2 s to half the cycle (from memory, high confidence). Below
// 0.5 s of cycle the lower limit gives way, to two fifths of the cycle: at 200
// beats a minute both sounds may lie 0.13 s apart.
const (
	systoleFrom      = 0.2 // s
	systoleFromShare = 0.4 // of the cycle
	systoleToShare   = 0.5 // of the cycle
)

// rhythmFinder estimates cycle length and systolic interval from the
// autocorrelation of an envelope, as Schmidt et al. 2010 do (Physiol Meas
// 31:513, doi 10.1088/0967-3334/31/4/004): the highest peak in the range of
// the cycle, then the highest in the range of the systolic interval.
type rhythmFinder struct {
	auto        *signal.Autocorrelator
	correlation []float64
}

// find returns the rhythms of the n highest peaks in the range of the cycle, the
// highest first: fewer if there are not so many, but at least one. The envelope
// has frameRate values per second.
func (f *rhythmFinder) find(envelope []float64, r Rates, n int) []rhythm {
	if f.auto == nil {
		f.auto = signal.NewAutocorrelator()
	}
	most := int(math.Ceil(r.longestCycle()*frameRate)) + 1
	f.correlation = f.auto.Biased(f.correlation, envelope, most)
	cycles := lagPeaks(f.correlation, r.shortestCycle()*frameRate, r.longestCycle()*frameRate)
	var found []rhythm
	for _, cycle := range cycles[:min(n, len(cycles))] {
		low := math.Min(systoleFrom*frameRate, systoleFromShare*cycle.lag)
		systole := lagPeaks(f.correlation, low, systoleToShare*cycle.lag)[0]
		found = append(found, rhythm{cycle: cycle.lag / frameRate, systole: systole.lag / frameRate})
	}
	return found
}

// lagPeak is a peak of an autocorrelation.
type lagPeak struct{ lag, height float64 }

// lagPeaks returns the local maxima of r between the lags low and high, the
// highest first. Place and height are those of the parabola through the maximum
// and its neighbours: at frameRate the height of a peak between two lags would
// otherwise be taken too low, and that at twice the lag preferred. Without a local
// maximum it returns the place of the largest value; if no whole lag lies between
// the limits, their middle.
func lagPeaks(r []float64, low, high float64) []lagPeak {
	from, to := max(1, int(math.Ceil(low))), min(len(r)-2, int(math.Floor(high)))
	if from > to {
		return []lagPeak{{lag: (low + high) / 2}}
	}
	var peaks []lagPeak
	largest := from
	for k := from; k <= to; k++ {
		if r[k] > r[largest] {
			largest = k
		}
		if r[k] > r[k-1] && r[k] >= r[k+1] {
			slope, curvature := (r[k+1]-r[k-1])/2, r[k-1]-2*r[k]+r[k+1]
			peaks = append(peaks, lagPeak{float64(k) - slope/curvature, r[k] - slope*slope/(2*curvature)})
		}
	}
	if len(peaks) == 0 {
		return []lagPeak{{float64(largest), r[largest]}}
	}
	slices.SortStableFunc(peaks, func(a, b lagPeak) int { return cmp.Compare(b.height, a.height) })
	return peaks
}
