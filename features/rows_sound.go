package features

import (
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

const schmidt2010 = "criterion of Schmidt et al. 2010, Physiol Meas 31:513, doi 10.1088/0967-3334/31/4/004 (from memory)"

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
			ofRecording: audibleRecording(func(r *recording) float64 { return r.level.moments.skewness() }),
		},
		{
			Name: "recording_kurtosis", Unit: "1", Range: "≥ 1", Source: "common practice; as a measure of quality in Tang et al. 2021, BioMed Res Int 7565398",
			Definition:  "m₄ / m₂², m_k = mean (y − mean y)^k: 3 for a normal distribution",
			ofRecording: audibleRecording(func(r *recording) float64 { return r.level.moments.kurtosis() }),
		},
		{
			Name: "recording_zero_crossings_per_s", Unit: "1/s", Range: "≥ 0", Source: practice,
			Definition: "changes of sign of y / duration in seconds",
			ofRecording: audibleRecording(func(r *recording) float64 {
				return float64(r.level.crossings) * signal.AnalysisRate / float64(len(r.y))
			}),
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

// audibleRecording returns the function that measures a recording and gives NaN
// where it is silent.
func audibleRecording(of func(*recording) float64) func(*recording) float64 {
	return func(r *recording) float64 {
		if r.silent {
			return math.NaN()
		}
		return of(r)
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
	const window = signal.AnalysisRate / 2
	r.windowed = r.windowed[:0]
	for from := 0; from+window <= len(r.y); from += window {
		low, high := simd.MinMax(r.y[from : from+window])
		r.windowed = append(r.windowed, math.Max(-low, high))
	}
	if len(r.windowed) < 2 {
		return math.NaN()
	}
	slices.Sort(r.windowed)
	limit := 3 * signal.Quantile(r.windowed, 0.5)
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
	rows := []Feature{
		measure("band_20_150_to_150_400_hz_db", "dB", "any", "10 log₁₀(Σ W at 20 ≤ f < 150 Hz / Σ W at 150 ≤ f < 400 Hz)", springer2016,
			func(r *recording) float64 {
				return decibels(ratio(r.spectrum.Band(20, 150).Power(), r.spectrum.Band(150, 400).Power()))
			}),
		measure("centroid_hz", "Hz", "25 to 400", "Σ f W / Σ W at 25 ≤ f < 400 Hz", practice+"; "+welch1967,
			func(r *recording) float64 { return r.shape.Centroid() }),
		measure("spectral_entropy", "1", "0 to 1", "−Σ w ln w / ln 384, w = W / Σ W, at 25 ≤ f < 400 Hz", shannon1948+"; "+welch1967,
			func(r *recording) float64 { return r.shape.Entropy() }),
		measure("spectral_flatness", "1", "0 to 1", "exp(mean ln W) / mean W at 25 ≤ f < 400 Hz", gray1974+"; "+welch1967,
			func(r *recording) float64 { return r.shape.Flatness() }),
	}
	for _, b := range [][2]float64{{0, 25}, {25, 400}} {
		rows = append(rows, measure(fmt.Sprintf("band_%g_%g_hz_share", b[0], b[1]), "1", "0 to 1",
			fmt.Sprintf("Σ W at %g ≤ f < %g Hz / Σ W at 0 ≤ f < 500 Hz", b[0], b[1]), practice+"; "+welch1967,
			func(r *recording) float64 { return r.spectrum.Band(0, signal.AnalysisRate/2).Share(b[0], b[1]) }))
	}
	return append(rows, Feature{
		Name: "recording_band_400_800_hz_share", Unit: "1", Range: "0 to 1", Source: practice + "; " + welch1967,
		Definition:  "Σ V at 400 ≤ f < 800 Hz / Σ V at 25 ≤ f < 800 Hz, V the Welch spectrum of v (mean removed, Hann segments of the least power of two of samples that lasts half a second, half overlapping)",
		Null:        silentRecording + ", or is shorter than 40 ms",
		ofRecording: func(r *recording) float64 { return r.highShare },
	})
}
