package features

import "math"

// rawFeatures are measured on the samples as they stand in the file, at its
// own rate: resampling would round off what clipping cut.
func rawFeatures() []Feature {
	return []Feature{
		{
			Name: "raw_peak_fs", Unit: "FS", Range: "≥ 0", Null: emptyRecording, Source: practice, Scaling: Proportional,
			Definition:  "max |raw|",
			ofRecording: func(r *recording) float64 { return math.Max(-r.rawLow.value, r.rawHigh.value) },
		},
		{
			Name: "raw_mean_fs", Unit: "FS", Range: "−1 to 1", Null: emptyRecording, Source: practice, Scaling: Proportional,
			Definition:  "mean of raw, the offset; changes sign with the polarity of the sensor",
			ofRecording: func(r *recording) float64 { return r.rawMean },
		},
		{
			Name: "raw_rms_db", Unit: "dB", Range: "≤ 0 within full scale", Null: "the recording is empty or its RMS is below 1e-9 FS", Source: practice, Scaling: Decibels,
			Definition:  "20 log₁₀ √(mean (raw − mean raw)²) re 1 FS: −3.01 dB for a sine of full scale",
			ofRecording: rawLevel,
		},
		{
			Name: "raw_clipped_share", Unit: "1", Range: "0 to 1", Null: "the recording is empty or constant", Source: practice,
			Definition:  "share of the samples of raw in runs of at least 3 samples and 1 ms that equal its greatest or its least sample",
			ofRecording: clippedShare,
		},
		{
			Name: "raw_flat_share", Unit: "1", Range: "0 to 1", Null: emptyRecording, Source: practice,
			Definition:  "share of the samples of raw in runs of equal samples that last at least 50 ms",
			ofRecording: func(r *recording) float64 { return flatShare(r.raw, (r.rawRate*50+999)/1000) },
		},
	}
}

func rawLevel(r *recording) float64 {
	if !(r.rawPower >= silence*silence) {
		return math.NaN()
	}
	return decibels(r.rawPower)
}

func clippedShare(r *recording) float64 {
	low, high := r.rawLow, r.rawHigh
	if !(high.value > low.value) {
		return math.NaN()
	}
	least := max(3, (r.rawRate+999)/1000)
	count := inRuns(r.raw[low.from:low.to], least, low.value, math.Inf(1)) +
		inRuns(r.raw[high.from:high.to], least, math.Inf(-1), high.value)
	return float64(count) / float64(len(r.raw))
}

func flatShare(x []float64, least int) float64 {
	return float64(inRuns(x, max(least, 2), math.Inf(1), math.Inf(-1))) / float64(len(x))
}

// inRuns returns how many samples lie in runs of at least the given number of
// equal samples of at most low or at least high. From x[to] on, such a run either
// covers x[to+least-1] or begins after it, so that most samples need not be looked
// at.
func inRuns(x []float64, least int, low, high float64) int {
	total := 0
	for at := least - 1; at < len(x); {
		if x[at] > low && x[at] < high {
			at += least
			continue
		}
		from, to := at, at+1
		for from > 0 && x[from-1] == x[at] {
			from--
		}
		for to < len(x) && x[to] == x[at] {
			to++
		}
		if to-from >= least {
			total += to - from
		}
		at = to + least - 1
	}
	return total
}
