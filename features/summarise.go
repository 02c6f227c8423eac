package features

import (
	"math"
	"math/bits"
	"slices"

	"phonocycle/pipeline/simd"
)

// summarise fills in the statistics over cycles, which end the features of the
// recording.
func (e *Extractor) summarise(out Features) {
	at := len(recordingFeatures)
	for k := range cycleFeatures {
		at -= bits.OnesCount8(uint8(cycleFeatures[k].Statistics))
	}
	for k := range cycleFeatures {
		if k%simd.Width == 0 {
			e.sortColumns(out.Cycles, k)
		}
		column := e.sorted[k%simd.Width]
		for _, s := range statistics {
			if cycleFeatures[k].Statistics&s.bit != 0 {
				out.Recording[at] = finite(s.of(column))
				at++
			}
		}
	}
}

// sortColumns fills sorted with the values of four features from the k-th on, as
// far as there are so many, without nulls.
func (e *Extractor) sortColumns(cycles []Cycle, k int) {
	width := min(simd.Width, len(cycleFeatures)-k)
	e.columns = slices.Grow(e.columns[:0], simd.Width*len(cycles))
	var count [simd.Width]int
	for i := range cycles {
		row := [simd.Width]float64{}
		for l, v := range cycles[i].Values[k : k+width] {
			if row[l] = v; math.IsNaN(v) {
				row[l] = math.Inf(1) // behind all values
			} else {
				count[l]++
			}
		}
		e.columns = append(e.columns, row[:]...)
	}
	simd.Sort(e.columns)
	for l, n := range count {
		e.sorted[l] = slices.Grow(e.sorted[l][:0], n)[:n]
		for i := range n {
			e.sorted[l][i] = e.columns[simd.Width*i+l]
		}
	}
}

// finite returns v, and NaN for an infinity.
func finite(v float64) float64 {
	if math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}
