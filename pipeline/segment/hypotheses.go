package segment

import (
	"fmt"
	"math"

	"phonocycle/pipeline/signal"
)

// Rates is a range of heart rates in beats a minute.
type Rates struct {
	Slowest float64 `yaml:"slowest_per_min" json:"slowest_per_min"`
	Fastest float64 `yaml:"fastest_per_min" json:"fastest_per_min"`
}

// DefaultRates reaches from a slow adult to a fast infant. Search ranges in
// print often end at 120 beats a minute, below the median rate of the newborn
// (127, Fleming et al. 2011, Lancet 377:1011, doi
// 10.1016/S0140-6736(10)62226-X).
func DefaultRates() Rates { return Rates{Slowest: 30, Fastest: 220} }

func (r Rates) check() error {
	if !(r.Slowest >= 10 && r.Slowest < r.Fastest && r.Fastest <= 400) {
		return fmt.Errorf("heart rates from %g to %g per minute: want 10 ≤ slowest < fastest ≤ 400", r.Slowest, r.Fastest)
	}
	return nil
}

// shortest and longest return the limits of the cycle length in seconds.
func (r Rates) shortest() float64 { return 60 / r.Fastest }
func (r Rates) longest() float64  { return 60 / r.Slowest }

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
	auto *signal.Autocorrelator
	r    []float64
}

// find returns the rhythm of an envelope with FrameRate values a second.
func (f *rhythmFinder) find(envelope []float64, rates Rates) Hypothesis {
	if f.auto == nil {
		f.auto = signal.NewAutocorrelator()
	}
	most := int(math.Ceil(rates.longest()*FrameRate)) + 1
	f.r = f.auto.Biased(f.r, envelope, most)
	cycle := highestPeak(f.r, rates.shortest()*FrameRate, rates.longest()*FrameRate)
	low := math.Min(systoleFrom*FrameRate, systoleFromShare*cycle)
	systole := highestPeak(f.r, low, systoleToShare*cycle)
	return Hypothesis{Cycle: cycle / FrameRate, Systole: systole / FrameRate}
}

// highestPeak returns the place of the highest local maximum of r between the
// indices low and high. Place and height are those of the parabola through the
// maximum and its neighbours: at FrameRate the height of a peak between two lags
// would otherwise be taken too low, and that at twice the lag preferred. Without
// a local maximum it is the place of the largest value; if no index lies between
// the limits, their middle.
func highestPeak(r []float64, low, high float64) float64 {
	from, to := max(1, int(math.Ceil(low))), min(len(r)-2, int(math.Floor(high)))
	if from > to {
		return (low + high) / 2
	}
	largest, top, height := from, -1.0, math.Inf(-1)
	for k := from; k <= to; k++ {
		if r[k] > r[largest] {
			largest = k
		}
		if r[k] <= r[k-1] || r[k] < r[k+1] {
			continue
		}
		slope, curvature := (r[k+1]-r[k-1])/2, r[k-1]-2*r[k]+r[k+1]
		if h := r[k] - slope*slope/(2*curvature); h > height {
			top, height = float64(k)-slope/curvature, h
		}
	}
	if top < 0 {
		return float64(largest)
	}
	return top
}
