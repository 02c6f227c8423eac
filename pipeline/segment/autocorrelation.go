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
	cycles      []lagPeak
	within      []lagPeak // the range of the systolic interval
	found       []rhythm
}

// find returns the rhythms of the n highest peaks in the range of the cycle, the
// highest first: fewer if there are not so many, but at least one. The envelope
// has frameRate values per second. The slice is valid until the next call.
func (f *rhythmFinder) find(envelope []float64, r Rates, n int) []rhythm {
	if f.auto == nil {
		f.auto = signal.NewAutocorrelator()
	}
	most := int(math.Ceil(r.longestCycle()*frameRate)) + 1
	f.correlation = f.auto.Biased(f.correlation, envelope, most)
	f.cycles = lagPeaks(f.cycles[:0], f.correlation, r.shortestCycle()*frameRate, r.longestCycle()*frameRate)
	f.found = f.found[:0]
	for _, cycle := range f.cycles[:min(n, len(f.cycles))] {
		low := math.Min(systoleFrom*frameRate, systoleFromShare*cycle.lag)
		f.within = lagPeaks(f.within[:0], f.correlation, low, systoleToShare*cycle.lag)
		f.found = append(f.found, rhythm{cycle: cycle.lag / frameRate, systole: f.within[0].lag / frameRate})
	}
	return f.found
}

// lagPeak is a peak of an autocorrelation.
type lagPeak struct{ lag, height float64 }

// lagPeaks appends the local maxima of r between the lags low and high to dst,
// the highest first. Place and height are those of the parabola through the
// maximum and its neighbours: at frameRate the height of a peak between two lags
// would otherwise be taken too low, and that at twice the lag preferred. Without
// a local maximum it appends the place of the largest value; if no whole lag lies
// between the limits, their middle.
func lagPeaks(dst []lagPeak, r []float64, low, high float64) []lagPeak {
	from, to := max(1, int(math.Ceil(low))), min(len(r)-2, int(math.Floor(high)))
	if from > to {
		return append(dst, lagPeak{lag: (low + high) / 2})
	}
	largest, first := from, len(dst)
	for k := from; k <= to; k++ {
		if r[k] > r[largest] {
			largest = k
		}
		if r[k] > r[k-1] && r[k] >= r[k+1] {
			slope, curvature := (r[k+1]-r[k-1])/2, r[k-1]-2*r[k]+r[k+1]
			dst = append(dst, lagPeak{float64(k) - slope/curvature, r[k] - slope*slope/(2*curvature)})
		}
	}
	if len(dst) == first {
		return append(dst, lagPeak{float64(largest), r[largest]})
	}
	slices.SortStableFunc(dst[first:], func(a, b lagPeak) int { return cmp.Compare(b.height, a.height) })
	return dst
}
