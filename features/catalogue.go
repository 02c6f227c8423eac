package features

import (
	"fmt"
	"slices"
)

// The catalogue. A feature is added by adding its row to one of these groups.
var (
	cycleFeatures = group(OfCycle,
		timingFeatures(),
		splitFeatures(),
		amplitudeFeatures(),
		murmurFeatures(),
		spectralFeatures(),
		cepstralFeatures(),
		waveletFeatures(),
		complexityFeatures(),
	)
	recordingFeatures = append(
		group(OfRecording,
			rateFeatures(),
			rawFeatures(),
			soundFeatures(),
			rhythmFeatures(),
		),
		statisticFeatures(cycleFeatures)...,
	)
)

// CycleFeatures returns the features of a cycle in the order of Cycle.Values.
func CycleFeatures() []Feature { return slices.Clone(cycleFeatures) }

// RecordingFeatures returns the features of a recording in the order of
// Features.Recording: first those of the recording as a whole, then the
// statistics over its cycles.
func RecordingFeatures() []Feature { return slices.Clone(recordingFeatures) }

// Catalogue returns all features, those of a cycle first. A name occurs once.
func Catalogue() []Feature { return slices.Concat(cycleFeatures, recordingFeatures) }

// group joins rows and gives them their level, the meaning of the symbols in
// their definitions and, where a row does not say, the usual scaling.
func group(level Level, parts ...[]Feature) []Feature {
	rows := slices.Concat(parts...)
	for i := range rows {
		rows[i].Level = level
		explain(&rows[i])
		if rows[i].Scaling == "" {
			rows[i].Scaling = Unchanged
		}
	}
	return rows
}

// statistic is one way of summing up a feature over cycles.
type statistic struct {
	bit           Statistics
	suffix, words string
	null          string
	of            func(sorted []float64) float64
}

var statistics = [...]statistic{
	{Mean, "mean", "arithmetic mean", "no cycle has a value", mean},
	{SD, "sd", "standard deviation (n − 1)", "fewer than 2 cycles have a value", standardDeviation},
	{Median, "median", "median", "no cycle has a value", median},
	{IQR, "iqr", "interquartile range (linear interpolation between order statistics)", "fewer than 2 cycles have a value", interquartileRange},
}

// statisticFeatures returns the features of the recording that sum up the
// given ones of its cycles, each feature's statistics side by side.
func statisticFeatures(of []Feature) []Feature {
	var rows []Feature
	for _, f := range of {
		for _, s := range statistics {
			if f.Statistics&s.bit == 0 {
				continue
			}
			row := Feature{
				Name:       f.Name + "_" + s.suffix,
				Level:      OfRecording,
				Unit:       f.Unit,
				Definition: fmt.Sprintf("%s over cycles, nulls left out, of: %s", s.words, f.Definition),
				Source:     f.Source,
				Range:      f.Range,
				Null:       s.null,
				Scaling:    f.Scaling,
			}
			if s.bit == SD || s.bit == IQR {
				row.Range = "≥ 0"
				if f.Scaling == Decibels || f.Scaling == Logarithmic {
					row.Scaling = Unchanged
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}
