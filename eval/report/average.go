package report

import (
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// cycleGap is how far apart two states may be written that follow each other:
// as far as gaps of the scored time are closed.
const cycleGap = 30 * time.Millisecond

// WholeCycles returns the whole cycles in intervals.
func WholeCycles(intervals []pcg.Interval) []pcg.CycleTimes {
	return slices.Collect(pcg.WholeCycles(intervals, cycleGap))
}

// Average is the mean cycle of a recording. Hearts do not keep time, so each state
// of each cycle is first stretched in time to the median length of that state;
// then sounds meet sounds and pauses pauses.
type Average struct {
	Cycles  int
	Lengths [4]time.Duration // median of each state

	// Mean of the envelope over the cycles and, at each moment, the values that one
	// cycle in ten lies below and one in ten above, as shares of the largest mean.
	Mean, Low, High []float64

	// Typical is the sound of the cycle whose envelope is most like the mean,
	// stretched alike.
	Typical []float64
}

// The steps in which an average is computed, for the envelope and for the sound.
const (
	averageStep = 2 * time.Millisecond
	typicalStep = 500 * time.Microsecond
)

// NewAverage averages the envelope of whole cycles. Envelope and wave are of the
// whole recording, at their rates in hertz. Without a cycle it returns nil.
func NewAverage(cycles []pcg.CycleTimes, wave []float64, waveRate int, envelope []float64, envelopeRate int) *Average {
	if len(cycles) == 0 {
		return nil
	}
	a := &Average{Cycles: len(cycles)}
	for k := range a.Lengths {
		lengths := make([]time.Duration, len(cycles))
		for i := range cycles {
			lengths[i] = cycles[i].StateLength(k)
		}
		slices.Sort(lengths)
		a.Lengths[k] = lengths[len(lengths)/2]
	}
	rows := make([][]float64, len(cycles))
	for i := range cycles {
		rows[i] = a.stretched(&cycles[i], envelope, envelopeRate, averageStep)
	}
	a.summarise(rows)
	a.Typical = a.stretched(&cycles[a.mostLikeMean(rows)], wave, waveRate, typicalStep)
	return a
}

// Length returns the length of the average cycle.
func (a *Average) Length() time.Duration {
	return a.Lengths[0] + a.Lengths[1] + a.Lengths[2] + a.Lengths[3]
}

// stretched returns samples of one cycle, each state brought to its median length.
func (a *Average) stretched(c *pcg.CycleTimes, x []float64, rate int, step time.Duration) []float64 {
	out := make([]float64, int(a.Length()/step))
	state, began := 0, time.Duration(0)
	for i := range out {
		t := time.Duration(i) * step
		for state < 3 && t >= began+a.Lengths[state] {
			began += a.Lengths[state]
			state++
		}
		share := float64(t-began) / float64(a.Lengths[state])
		out[i] = valueAt(x, (c[state].Seconds()+share*c.StateLength(state).Seconds())*float64(rate))
	}
	return out
}

// valueAt returns x between its samples, by linear interpolation.
func valueAt(x []float64, at float64) float64 {
	i := int(math.Floor(at))
	switch {
	case len(x) == 0:
		return 0
	case i < 0:
		return x[0]
	case i+1 >= len(x):
		return x[len(x)-1]
	}
	share := at - float64(i)
	return x[i] + share*(x[i+1]-x[i])
}

// summarise finds mean and spread at each moment.
func (a *Average) summarise(rows [][]float64) {
	n := len(rows[0])
	a.Mean, a.Low, a.High = make([]float64, n), make([]float64, n), make([]float64, n)
	column := make([]float64, len(rows))
	for i := range n {
		sum := 0.0
		for j, row := range rows {
			column[j] = row[i]
			sum += row[i]
		}
		slices.Sort(column)
		a.Mean[i] = sum / float64(len(rows))
		last := float64(len(column) - 1)
		a.Low[i], a.High[i] = valueAt(column, 0.1*last), valueAt(column, 0.9*last)
	}
	if peak := slices.Max(a.Mean); peak > 0 {
		for i := range n {
			a.Mean[i], a.Low[i], a.High[i] = a.Mean[i]/peak, a.Low[i]/peak, a.High[i]/peak
		}
	}
}

// mostLikeMean returns the row with the highest correlation with the mean.
func (a *Average) mostLikeMean(rows [][]float64) int {
	best, at := math.Inf(-1), 0
	for i, row := range rows {
		if r := correlation(row, a.Mean); r > best {
			best, at = r, i
		}
	}
	return at
}

// correlation returns the coefficient of correlation of x and y, or 0 where one of
// them is constant.
func correlation(x, y []float64) float64 {
	var mx, my float64
	for i := range x {
		mx, my = mx+x[i]/float64(len(x)), my+y[i]/float64(len(y))
	}
	var xy, xx, yy float64
	for i := range x {
		xy, xx, yy = xy+(x[i]-mx)*(y[i]-my), xx+(x[i]-mx)*(x[i]-mx), yy+(y[i]-my)*(y[i]-my)
	}
	if xx == 0 || yy == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}
