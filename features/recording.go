package features

import (
	"math"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// recording is what the function of a recording feature sees: everything that
// several features need of one recording, computed once. It holds no more
// than the segmentation needs for heart rate and signal-to-noise ratio.
type recording struct {
	cycles []pcg.CycleTimes
	length time.Duration

	raw             []float64
	rawRate         int
	rawMean         float64
	rawPower        float64 // mean (raw − mean raw)²
	rawLow, rawHigh extreme

	y      []float64 // band-limited to 25 to 400 Hz
	level  level
	silent bool
	// Mean square of y in the sounds and between them; NaN without samples.
	soundPower, pausePower float64

	spectrum  signal.Spectrum // Welch of x; empty where silent
	shape     signal.Shape    // of the spectrum at 25 to 400 Hz
	highShare float64         // of the raw signal

	frames    []float64 // of the envelope, 50 Hz
	sorted    []float64 // the frames in ascending order
	moments   moments   // of the frames
	acf       []float64 // biased autocorrelation of the frames to 5 s
	rhythm    rhythm
	templates templateMatcher
	windowed  []float64 // greatest |y| of each half second
}

// extreme is the least or the greatest raw sample.
type extreme struct {
	value    float64
	from, to int // all samples that have it lie between
}

// take makes v, found between two samples, the extreme where it is beyond what was
// found before.
func (e *extreme) take(v float64, beyond bool, from, to int) {
	if beyond {
		*e = extreme{v, from, to}
	} else if v == e.value {
		e.to = to
	}
}

// measureRaw fills in what is measured on the raw samples. It takes them in stretches
// that stay in the cache of a processor core from one measure to the next.
func (r *recording) measureRaw() {
	const stretch = 2048
	var sum, square float64
	r.rawLow, r.rawHigh = extreme{value: math.NaN()}, extreme{value: math.NaN()}
	for from := 0; from < len(r.raw); from += stretch {
		to := min(from+stretch, len(r.raw))
		x := r.raw[from:to]
		low, high := simd.MinMax(x)
		r.rawLow.take(low, !(low >= r.rawLow.value), from, to)
		r.rawHigh.take(high, !(high <= r.rawHigh.value), from, to)
		sum += simd.Sum(x)
		square += simd.Dot(x, x)
	}
	n := float64(len(r.raw))
	r.rawMean = sum / n
	r.rawPower = square/n - r.rawMean*r.rawMean
	// Where next to nothing is left of the square, much of it is its rounding.
	if !(r.rawPower > 1e-3*square/n) {
		r.rawPower = squares(r.raw, r.rawMean) / n
	}
}

// powers returns the mean square of y in S1 and S2 and in systole and
// diastole.
func powers(y []float64, intervals []pcg.Interval) (sounds, pauses float64) {
	var sum, count [2]float64
	for _, iv := range intervals {
		which := 1
		switch {
		case iv.State == pcg.Unannotated:
			continue
		case iv.State.IsSound():
			which = 0
		}
		from := min(pcg.ToSamples(iv.Start, signal.AnalysisRate), len(y))
		to := min(pcg.ToSamples(iv.End, signal.AnalysisRate), len(y))
		part := y[from:to]
		sum[which] += energy(part)
		count[which] += float64(len(part))
	}
	return ratio(sum[0], count[0]), ratio(sum[1], count[1])
}
