package features

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"phonocycle/pipeline/signal"
)

// The most cycles that are stacked, and the most frames whose sample entropy
// is taken: 30 s.
const (
	mostStacked       = 64
	mostEntropyFrames = 30 * frameRate
)

const (
	noFrames = "the recording is shorter than 40 ms or silent (RMS of y below 1e-9 FS), or its envelope is constant"
	noRhythm = "the recording is shorter than 1.28 s or silent (RMS of y below 1e-9 FS), or its envelope is constant"
	noACF    = "the recording is shorter than 5.02 s or silent (RMS of y below 1e-9 FS)"
)

// rhythmFeatures are measured on h, the envelope at 50 Hz, without any
// segmentation.
func rhythmFeatures() []Feature {
	rows := []Feature{
		{
			Name: "envelope_periodicity", Unit: "1", Range: "−1 to 1", Null: noRhythm, Source: springer2016,
			Definition:  "greatest correlation of h[k] and h[k + lag] over lags of 0.28 to 2.00 s that leave at least 1 s of pairs",
			ofRecording: func(r *recording) float64 { return r.rhythm.correlation },
		},
		{
			Name: "envelope_period_s", Unit: "s", Range: "0.28 to 2.00", Null: noRhythm, Source: practice,
			Definition:  "lag of the greatest correlation of h with itself (envelope_periodicity): one cycle or several, or half of one where systole and diastole are alike",
			ofRecording: func(r *recording) float64 { return r.rhythm.seconds() },
		},
		{
			Name: "envelope_stack_singular_ratio", Unit: "1", Range: "0 to 1", Source: springer2016,
			Null:        "the recording is shorter than 2 such periods or " + noRhythm,
			Definition:  "σ₂/σ₁, the second over the first singular value of the matrix whose rows are the consecutive stretches of h, each envelope_period_s long, the first 64 at most: 0 for equal rows",
			ofRecording: stackRatio,
		},
		{
			Name: "envelope_autocorrelation_sd", Unit: "1", Range: "≥ 0", Null: noACF, Source: springer2016,
			Definition:  "standard deviation (n − 1) of ρ, the biased autocorrelation of h at lags of 0.02 to 5.00 s",
			ofRecording: ofACF(standardDeviation),
		},
		{
			Name: "envelope_autocorrelation_kurtosis", Unit: "1", Range: "≥ 1", Null: noACF, Source: springer2016,
			Definition:  "m₄ / m₂², m_k = mean (ρ − mean ρ)^k, ρ the biased autocorrelation of h at lags of 0.02 to 5.00 s",
			ofRecording: ofACF(func(x []float64) float64 { return momentsOf(x).kurtosis() }),
		},
		{
			Name: "envelope_autocorrelation_sample_entropy", Unit: "1", Range: "≥ 0", Null: noACF + ", or no three samples repeat", Source: springer2016 + "; " + richman2000,
			Definition:  "sample entropy, m = 2, r = 0.2 · SD, of ρ, the biased autocorrelation of h at lags of 0.02 to 5.00 s",
			ofRecording: func(r *recording) float64 { return ofACF(r.templates.sampleEntropy)(r) },
		},
		{
			Name: "envelope_sample_entropy", Unit: "1", Range: "≥ 0", Null: "the recording is shorter than 1 s or silent (RMS of y below 1e-9 FS), or no three frames repeat", Source: richman2000,
			Definition:  "sample entropy, m = 2, r = 0.2 · SD, of the first 30 s of h",
			ofRecording: frameEntropy,
		},
	}
	return append(rows, envelopeStatistics()...)
}

// envelopeStatistics are about the distribution of h.
func envelopeStatistics() []Feature {
	return []Feature{
		{
			Name: "envelope_coefficient_of_variation", Unit: "1", Range: "≥ 0", Null: noFrames, Source: practice,
			Definition:  "√m₂ / mean h, m₂ = mean (h − mean h)²",
			ofRecording: func(r *recording) float64 { return math.Sqrt(ratio(r.moments.second, r.moments.mean*r.moments.mean)) },
		},
		{
			Name: "envelope_skewness", Unit: "1", Range: "any", Null: noFrames, Source: practice,
			Definition:  "m₃ / m₂^(3/2), m_k = mean (h − mean h)^k",
			ofRecording: func(r *recording) float64 { return r.moments.skewness() },
		},
		{
			Name: "envelope_kurtosis", Unit: "1", Range: "≥ 1", Null: noFrames, Source: practice,
			Definition:  "m₄ / m₂², m_k = mean (h − mean h)^k",
			ofRecording: func(r *recording) float64 { return r.moments.kurtosis() },
		},
		{
			Name: "envelope_range_db", Unit: "dB", Range: "≥ 0", Null: noFrames + ", or 5 % of h is zero", Source: practice,
			Definition:  "20 log₁₀ of the 95 % over the 5 % quantile of h (linear interpolation between order statistics)",
			ofRecording: envelopeRange,
		},
	}
}

// ofACF measures the autocorrelation from lag 1 on.
func ofACF(of func([]float64) float64) func(*recording) float64 {
	return func(r *recording) float64 {
		if len(r.acf) == 0 {
			return math.NaN()
		}
		return of(r.acf[1:])
	}
}

func frameEntropy(r *recording) float64 {
	if len(r.frames) < frameRate {
		return math.NaN()
	}
	return r.templates.sampleEntropy(r.frames[:min(len(r.frames), mostEntropyFrames)])
}

func stackRatio(r *recording) float64 {
	width := r.rhythm.lag
	if width == 0 || len(r.frames) < 2*width {
		return math.NaN()
	}
	rows := min(len(r.frames)/width, mostStacked)
	var svd mat.SVD
	if !svd.Factorize(mat.NewDense(rows, width, r.frames[:rows*width]), mat.SVDNone) {
		return math.NaN()
	}
	values := svd.Values(nil)
	return ratio(values[1], values[0])
}

func envelopeRange(r *recording) float64 {
	if len(r.frames) < 2 {
		return math.NaN()
	}
	r.sorted = append(r.sorted[:0], r.frames...)
	slices.Sort(r.sorted)
	return 2 * decibels(ratio(signal.Quantile(r.sorted, 0.95), signal.Quantile(r.sorted, 0.05)))
}
