package features

import (
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/simd"
)

const (
	emptyRecording  = "the recording is empty"
	silentRecording = "the recording is empty or silent (RMS of y below 1e-9 FS)"
	springer2016    = "after Springer et al. 2016, J Med Eng Technol 40:342 (from memory)"
	schmidt2010     = "criterion of Schmidt et al. 2010, Physiol Meas 31:513, doi 10.1088/0967-3334/31/4/004 (from memory)"
)

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

// soundFeatures are measured on the recording at 1 kHz, cycles or none.
func soundFeatures() []Feature {
	rows := []Feature{
		{
			Name: "sound_to_pause_db", Unit: "dB", Range: "any", Source: "common practice, a proxy of the signal-to-noise ratio",
			Null:        "no samples in one of the two, or one of them silent",
			Definition:  "10 log₁₀(mean y² in S1 and S2 / mean y² in systole and diastole), over all states of the segmentation",
			ofRecording: soundToPause,
		},
		{
			Name: "recording_rms_fs", Unit: "FS", Range: "≥ 0", Null: emptyRecording, Source: practice, Scaling: Proportional,
			Definition:  "√(mean y²)",
			ofRecording: func(r *recording) float64 { return r.level.rms() },
		},
		{
			Name: "recording_skewness", Unit: "1", Range: "any", Source: practice,
			Definition:  "m₃ / m₂^(3/2), m_k = mean (y − mean y)^k; changes sign with the polarity of the sensor",
			ofRecording: ofLevel(func(l *level) float64 { return l.moments.skewness() }),
		},
		{
			Name: "recording_kurtosis", Unit: "1", Range: "≥ 1", Source: "Tang et al. 2021, BioMed Res Int 7565398, use it for quality",
			Definition:  "m₄ / m₂², m_k = mean (y − mean y)^k: 3 for a normal distribution",
			ofRecording: ofLevel(func(l *level) float64 { return l.moments.kurtosis() }),
		},
		{
			Name: "recording_zero_crossings_per_s", Unit: "1/s", Range: "≥ 0", Source: practice,
			Definition:  "changes of sign of y / duration in seconds",
			ofRecording: func(r *recording) float64 { return ofLevel(crossings)(r) * Rate / float64(len(r.y)) },
		},
		{
			Name: "recording_successive_difference_ratio", Unit: "1", Range: "0 to 2", Source: practice,
			Null:        silentRecording + ", or has one sample",
			Definition:  "√(mean (y[k] − y[k−1])²) / √(mean y²), samples 1 ms apart",
			ofRecording: successiveDifference,
		},
		{
			Name: "recording_spike_share", Unit: "1", Range: "0 to 0.5", Source: schmidt2010,
			Null:        "the recording is shorter than 1 s, or half of it is silent",
			Definition:  "share of the whole half seconds whose max |y| exceeds 3 times the median of these maxima",
			ofRecording: spikeShare,
		},
	}
	for i := range rows {
		if rows[i].Null == "" {
			rows[i].Null = silentRecording
		}
	}
	return append(rows, recordingSpectrum()...)
}

func crossings(l *level) float64 { return float64(l.crossings) }

// ofLevel measures the level of the recording unless it is silent.
func ofLevel(of func(*level) float64) func(*recording) float64 {
	return func(r *recording) float64 {
		if r.silent {
			return math.NaN()
		}
		return of(&r.level)
	}
}

func soundToPause(r *recording) float64 {
	const floor = silence * silence
	if !(r.soundPower >= floor && r.pausePower >= floor) {
		return math.NaN()
	}
	return decibels(r.soundPower / r.pausePower)
}

func successiveDifference(r *recording) float64 {
	if r.silent || len(r.y) < 2 {
		return math.NaN()
	}
	var s float64
	for k := 1; k < len(r.y); k++ {
		d := r.y[k] - r.y[k-1]
		s += d * d
	}
	return math.Sqrt(s/float64(len(r.y)-1)) / r.level.rms()
}

func spikeShare(r *recording) float64 {
	const window = Rate / 2
	r.windowed = r.windowed[:0]
	for from := 0; from+window <= len(r.y); from += window {
		low, high := simd.Limits(r.y[from : from+window])
		r.windowed = append(r.windowed, math.Max(-low, high))
	}
	if len(r.windowed) < 2 {
		return math.NaN()
	}
	slices.Sort(r.windowed)
	limit := 3 * median(r.windowed)
	if !(limit >= silence) {
		return math.NaN()
	}
	over := 0
	for _, v := range r.windowed {
		if v > limit {
			over++
		}
	}
	return float64(over) / float64(len(r.windowed))
}

// recordingSpectrum are measured on the spectrum of the whole recording.
func recordingSpectrum() []Feature {
	measure := func(name, unit, limits, definition, source string, of func(*recording) float64) Feature {
		return Feature{
			Name: "recording_" + name, Unit: unit, Range: limits, Definition: definition, Source: source,
			Null: silentRecording + ", or is shorter than 40 ms",
			ofRecording: func(r *recording) float64 {
				if len(r.spectrum.Density) == 0 {
					return math.NaN()
				}
				return of(r)
			},
		}
	}
	const welch1967 = "Welch 1967, doi 10.1109/TAU.1967.1161901"
	rows := []Feature{
		measure("band_20_150_to_150_400_hz_db", "dB", "any", "10 log₁₀(Σ W at 20 ≤ f < 150 Hz / Σ W at 150 ≤ f < 400 Hz)", springer2016,
			func(r *recording) float64 {
				return decibels(ratio(r.spectrum.Band(20, 150).Power(), r.spectrum.Band(150, 400).Power()))
			}),
		measure("centroid_hz", "Hz", "25 to 400", "Σ f W / Σ W at 25 ≤ f < 400 Hz", welch1967,
			func(r *recording) float64 { return r.shape.Centroid() }),
		measure("spectral_entropy", "1", "0 to 1", "−Σ w ln w / ln 384, w = W / Σ W, at 25 ≤ f < 400 Hz", welch1967,
			func(r *recording) float64 { return r.shape.Entropy() }),
		measure("spectral_flatness", "1", "0 to 1", "exp(mean ln W) / mean W at 25 ≤ f < 400 Hz", welch1967,
			func(r *recording) float64 { return r.shape.Flatness() }),
	}
	for _, b := range [][2]float64{{0, 25}, {25, 400}} {
		rows = append(rows, measure(fmt.Sprintf("band_%g_%g_hz_share", b[0], b[1]), "1", "0 to 1",
			fmt.Sprintf("Σ W at %g ≤ f < %g Hz / Σ W at 0 ≤ f < 500 Hz", b[0], b[1]), welch1967,
			func(r *recording) float64 { return r.spectrum.Band(0, Rate/2).Share(b[0], b[1]) }))
	}
	return append(rows, Feature{
		Name: "recording_band_400_800_hz_share", Unit: "1", Range: "0 to 1", Source: welch1967,
		Definition:  "Σ V at 400 ≤ f < 800 Hz / Σ V at 25 ≤ f < 800 Hz, V the Welch spectrum of v (mean removed, Hann segments of the least power of two of samples that lasts half a second, half overlapping)",
		Null:        silentRecording + ", is shorter than 40 ms, or the file has less than 2000 Hz",
		ofRecording: func(r *recording) float64 { return r.highShare },
	})
}
