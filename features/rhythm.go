package features

import (
	"math"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// Frames of the envelope, which rhythm and complexity are measured on.
const (
	frameRate   = 50 // Hz
	frameHop    = signal.AnalysisRate / frameRate
	acfSeconds  = 5
	shortestLag = 14  // frames: 0.28 s, 214 beats a minute
	longestLag  = 100 // frames: 2 s, 30 beats a minute

	// An envelope whose variance is this part of its squared mean varies by
	// rounding alone.
	constant = 1e-18
)

// rhythm is how well the frames of an envelope repeat.
type rhythm struct {
	correlation float64
	lag         int // frames; 0 where there is none
}

func (r rhythm) seconds() float64 {
	if r.lag == 0 {
		return math.NaN()
	}
	return float64(r.lag) / frameRate
}

// rhythmOf returns the lag at which the frames correlate best with themselves.
func rhythmOf(a []float64) rhythm {
	best := rhythm{correlation: math.NaN()}
	last := min(longestLag, len(a)-frameRate)
	if last < shortestLag {
		return best
	}
	// What all lags have in common.
	common := len(a) - last
	early, late := sumsOf(a[:common]), sumsOf(a[last:])
	for lag := shortestLag; lag <= last; lag++ {
		end := len(a) - lag
		c := correlation(a[:end], a[lag:], early.and(a[common:end]), late.and(a[lag:last]))
		if !math.IsNaN(c) && !(c <= best.correlation) {
			best = rhythm{c, lag}
		}
	}
	return best
}

// sums holds Σ x and Σ x² of a sequence.
type sums struct{ one, square float64 }

func sumsOf(x []float64) sums { return sums{simd.Sum(x), simd.Dot(x, x)} }

// and returns the sums with the values of x.
func (s sums) and(x []float64) sums {
	part := sumsOf(x)
	return sums{s.one + part.one, s.square + part.square}
}

// correlation returns Pearson's correlation of two equally long sequences, of which
// the sums are known, NaN if one is constant.
func correlation(x, y []float64, ofX, ofY sums) float64 {
	n := float64(len(x))
	mx, my := ofX.one/n, ofY.one/n
	xx, yy := ofX.square-n*mx*mx, ofY.square-n*my*my
	xy := simd.Dot(x, y) - n*mx*my
	// Where next to nothing is left of the sums, much of it is their rounding.
	const least = 1e-3
	if !(xx > least*ofX.square && yy > least*ofY.square) {
		mx, my = mean(x), mean(y)
		xx, xy, yy = 0, 0, 0
		for i := range x {
			dx, dy := x[i]-mx, y[i]-my
			xx += dx * dx
			xy += dx * dy
			yy += dy * dy
		}
	}
	return xy / math.Sqrt(xx*yy)
}
