package segment

import (
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
)

// Frames of the Shannon energy, of the paper (from memory, high confidence).
const (
	shannonWidth = signal.AnalysisRate * 20 / 1000 // samples
	shannonHop   = signal.AnalysisRate * 10 / 1000 // samples
	shannonRate  = signal.AnalysisRate / shannonHop
)

// shannonOptions are the choices of the method shannon-peaks.
type shannonOptions struct {
	Rates     `yaml:",inline"`
	Scale     float64 `yaml:"scale-quantile"`
	Threshold float64 `yaml:"threshold"`
	Lowest    float64 `yaml:"lowest-threshold"`
	Floor     float64 `yaml:"floor"`
	Edge      float64 `yaml:"edge"`
	Split     float64 `yaml:"split-s"`
	Limits    float64 `yaml:"limits-sd"`
}

// defaultShannonOptions returns the splitting limit of the paper. The other levels
// are ours: thresholds reach from a height that only the loudest sounds pass to just
// above the mean of the envelope.
func defaultShannonOptions() *shannonOptions {
	return &shannonOptions{
		Rates: defaultRates(),
		Scale: 0.998, Threshold: 2, Lowest: 0.25, Floor: -0.3, Edge: 0.3, Split: 0.05, Limits: 2,
	}
}

// Options implements [option.Set].
func (o *shannonOptions) Options() []option.Option {
	from := func(confidence string) option.Source { return option.FromMemory("Liang et al. 1997", confidence) }
	return append(o.Rates.options(nil, nil, option.Source{}), []option.Option{
		{
			Key: "scale-quantile", Value: &o.Scale, About: "Quantile of the absolute amplitude that the signal is divided by",
			Low: 0.5, High: 1, Paper: 1, Source: from("high"),
			Default: "Shannon energy is zero at the scale: with the maximum, a single click would hide all else",
		},
		{
			Key: "threshold", Value: &o.Threshold, About: "Highest threshold of sounds that is tried, in SDs of the envelope above its mean", Unit: "SD",
			Low: -10, High: 10, Paper: "set for each recording", Source: from("medium"),
			Default: "Only the loudest sounds are higher. Eight thresholds are tried; that with the most regular cycles is kept",
		},
		{
			Key: "lowest-threshold", Value: &o.Lowest, About: "Lowest threshold of sounds that is tried, likewise", Unit: "SD",
			Low: -10, High: o.Threshold, Limit: "-10 to threshold",
			Default: "Just above the mean of the envelope",
		},
		{
			Key: "floor", Value: &o.Floor, About: "Lowest threshold in the search for lost sounds, likewise", Unit: "SD",
			Low: -10, High: o.Lowest, Limit: "-10 to lowest-threshold", Paper: "lowered in steps; the end is not known", Source: from("low"),
			Default: "Just below the mean of the envelope",
		},
		{
			Key: "edge", Value: &o.Edge, About: "Share of a peak's height at which its sound begins and ends",
			Low: 0.001, High: 0.999, Paper: "a lower threshold around each peak; its value is not known", Source: from("low"),
		},
		{
			Key: "split-s", Value: &o.Split, About: "Longest distance of two peaks that are one split sound", Unit: "s",
			Low: 0, High: 0.2, Paper: 0.05, Source: from("low"),
		},
		{
			Key: "limits-sd", Value: &o.Limits, About: "Distance of an interval from the mean beyond which it has a sound too many or has lost one, in SDs of the intervals", Unit: "SD",
			Low: 0.001, High: 1000, Paper: "two limits from mean and SD; the factor is not known", Source: from("medium"),
		},
	}...)
}
