package segment

import (
	"cmp"

	"phonocycle/pipeline/signal"
)

// Frames of the Shannon energy, of the paper (from memory, high confidence).
const (
	shannonWidth = signal.AnalysisRate * 20 / 1000 // samples
	shannonHop   = signal.AnalysisRate * 10 / 1000 // samples
	shannonRate  = signal.AnalysisRate / shannonHop
)

// shannonOptions are the choices of the method shannon-peaks. Levels are in
// standard deviations of the envelope above its mean.
type shannonOptions struct {
	Rates     `yaml:",inline"`
	Scale     float64 `yaml:"scale-quantile" json:"scale_quantile"`     // quantile of |x| that counts as 1
	Threshold float64 `yaml:"threshold" json:"threshold"`               // sounds rise above it: the highest that is tried
	Lowest    float64 `yaml:"lowest-threshold" json:"lowest_threshold"` // the lowest that is tried
	Floor     float64 `yaml:"floor" json:"floor"`                       // lowest threshold in the search for lost sounds
	Edge      float64 `yaml:"edge" json:"edge"`                         // share of a peak's height at which its sound begins and ends
	Split     float64 `yaml:"split-s" json:"split_s"`                   // peaks no further apart are one split sound
	Limits    float64 `yaml:"limits-sd" json:"limits_sd"`               // intervals further from their mean are suspicious, in their SDs
}

// defaultShannonOptions returns the splitting limit of the paper (50 ms, from
// memory, low confidence). The other levels are ours: thresholds reach from a height
// that only the loudest sounds pass to just above the mean of the envelope.
func defaultShannonOptions() *shannonOptions {
	return &shannonOptions{
		Rates: defaultRates(),
		Scale: 0.998, Threshold: 2, Lowest: 0.25, Floor: -0.3, Edge: 0.3, Split: 0.05, Limits: 2,
	}
}

func (o *shannonOptions) check() error {
	err := checkRanges(
		valueRange{"scale-quantile", o.Scale, 0.5, 1},
		valueRange{"threshold", o.Threshold, -10, 10},
		valueRange{"lowest-threshold", o.Lowest, -10, o.Threshold},
		valueRange{"floor", o.Floor, -10, o.Lowest},
		valueRange{"edge", o.Edge, 0.001, 0.999},
		valueRange{"split-s", o.Split, 0, 0.2},
		valueRange{"limits-sd", o.Limits, 0.001, 1000},
	)
	return cmp.Or(err, o.Rates.check())
}
