package report

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// cycleGap is the longest gap between two states of a whole cycle. It is that of
// the scoring rules, which close gaps between annotated states up to it.
const cycleGap = 30 * time.Millisecond

// WholeCycles returns the whole cycles in intervals.
func WholeCycles(intervals []pcg.Interval) []pcg.CycleTimes {
	return slices.Collect(pcg.WholeCycles(intervals, cycleGap))
}

// averageCycle is the mean cycle of a recording. Cycles differ in length, so each
// state of each cycle is first stretched in time to the median length of that
// state.
type averageCycle struct {
	Cycles  int
	lengths [4]time.Duration // median of each state

	// Mean, 10th and 90th percentile of the envelope over the cycles, every
	// envelopeStep, as fractions of the largest mean.
	mean, p10, p90 []float64

	// wave is the cycle whose envelope has the highest correlation with the mean, a
	// sample every waveStep.
	wave []float64
}

// Time steps of the average envelope and of the typical waveform.
const (
	envelopeStep = 2 * time.Millisecond
	waveStep     = 500 * time.Microsecond
)

// newAverageCycle averages the whole cycles of a recording; sound is that of the
// whole recording. Without a cycle it returns nil.
func newAverageCycle(cycles []pcg.CycleTimes, sound *Sound) *averageCycle {
	if len(cycles) == 0 {
		return nil
	}
	a := &averageCycle{Cycles: len(cycles)}
	for k := range a.lengths {
		lengths := sortedLengths(cycles, k, k+1)
		a.lengths[k] = time.Duration(signal.Quantile(lengths, 0.5))
	}
	envelopes := make([][]float64, len(cycles))
	for i := range cycles {
		envelopes[i] = a.stretched(&cycles[i], sound.Envelope, sound.EnvelopeRate, envelopeStep)
	}
	a.summarise(envelopes)
	a.wave = a.stretched(&cycles[a.mostTypical(envelopes)], sound.Wave, sound.WaveRate, waveStep)
	return a
}

// sortedLengths returns the times in nanoseconds from the start of one state to
// that of another, in ascending order. States are counted from S1 as 0 to the next
// S1 as 4.
func sortedLengths(cycles []pcg.CycleTimes, from, to int) []float64 {
	list := make([]float64, len(cycles))
	for i := range cycles {
		list[i] = float64(cycles[i][to] - cycles[i][from])
	}
	slices.Sort(list)
	return list
}

// length returns the length of the average cycle.
func (a *averageCycle) length() time.Duration {
	return a.lengths[0] + a.lengths[1] + a.lengths[2] + a.lengths[3]
}

// stretched returns x over one cycle, with each state stretched to its median
// length.
func (a *averageCycle) stretched(c *pcg.CycleTimes, x []float64, rate int, step time.Duration) []float64 {
	out := make([]float64, int(a.length()/step))
	state, start := 0, time.Duration(0)
	for i := range out {
		t := time.Duration(i) * step
		for state < 3 && t >= start+a.lengths[state] {
			start += a.lengths[state]
			state++
		}
		fraction := float64(t-start) / float64(a.lengths[state])
		out[i] = valueAt(x, (c[state].Seconds()+fraction*c.StateLength(state).Seconds())*float64(rate))
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
	fraction := at - float64(i)
	return x[i] + fraction*(x[i+1]-x[i])
}

// summarise sets mean and percentiles of the envelopes.
func (a *averageCycle) summarise(envelopes [][]float64) {
	n := len(envelopes[0])
	a.mean, a.p10, a.p90 = make([]float64, n), make([]float64, n), make([]float64, n)
	column := make([]float64, len(envelopes))
	for i := range n {
		for j, row := range envelopes {
			column[j] = row[i]
		}
		a.mean[i] = stat.Mean(column, nil)
		slices.Sort(column)
		a.p10[i], a.p90[i] = signal.Quantile(column, 0.1), signal.Quantile(column, 0.9)
	}
	if peak := slices.Max(a.mean); peak > 0 {
		for _, x := range [][]float64{a.mean, a.p10, a.p90} {
			floats.Scale(1/peak, x)
		}
	}
}

// mostTypical returns the envelope with the highest coefficient of correlation
// with the mean, the first of several or of none that has one.
func (a *averageCycle) mostTypical(envelopes [][]float64) int {
	best, at := math.Inf(-1), 0
	for i, row := range envelopes {
		if r := stat.Correlation(row, a.mean, nil); r > best {
			best, at = r, i
		}
	}
	return at
}
