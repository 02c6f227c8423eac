package features

import (
	"math"
	"math/bits"
	"time"

	"phonocycle/pipeline/signal"
)

// rawSignal is the signal at the rate of the file and, of a file of at least
// 2000 Hz, v: the same thinned out to the lowest rate from 2000 Hz on.
type rawSignal struct {
	x    []float64
	rate int // Hz

	decimator   *signal.Decimator // nil where there is no v
	v           []float64
	vRate       float64 // Hz
	periodogram *signal.Periodogram
	welch       *signal.Welch
	spectrum    signal.Spectrum
}

// set makes x the raw signal and, where the rate is new, the plans for it: the
// grid of v is the least power of two that is at least half a second long.
func (r *rawSignal) set(x []float64, rate int) {
	if r.rate != rate {
		r.rate, r.decimator = rate, nil
		if rate >= highRate {
			factor := rate / highRate
			r.decimator = signal.NewDecimator(factor, highBand, float64(rate))
			r.vRate = float64(rate) / float64(factor)
			n := 1 << bits.Len(uint(math.Ceil(r.vRate/2))-1)
			r.periodogram, r.welch = signal.NewPeriodogram(n), signal.NewWelch(n, n/2)
		}
	}
	r.x = x
	if r.decimator != nil {
		r.v = r.decimator.Decimate(r.v, x)
	}
}

// between returns the samples of v from one time to another.
func (r *rawSignal) between(start, end time.Duration) []float64 {
	at := func(t time.Duration) int {
		return min(int(math.Round(t.Seconds()*r.vRate)), len(r.v))
	}
	return r.v[at(start):at(end)]
}
