package features

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Level says what one value of a feature describes, and so in which table it
// is a column.
type Level string

// The levels.
const (
	OfCycle     Level = "cycle"     // one value a cardiac cycle
	OfRecording Level = "recording" // one value a recording
)

// Statistics says by which statistics over its cycles a cycle feature enters
// the features of the recording.
type Statistics uint8

// The statistics over cycles.
const (
	Mean   Statistics = 1 << iota // arithmetic mean
	SD                            // standard deviation with n − 1
	Median                        // median
	IQR                           // third less first quartile

	MeanSD = Mean | SD
	Four   = Mean | SD | Median | IQR
)

// Scaling says what becomes of a value when the recording is amplified.
type Scaling string

// The scalings, for a factor g of amplitude.
const (
	Unchanged    Scaling = "unchanged"
	Proportional Scaling = "times g"
	Decibels     Scaling = "plus 20 log10 g"
	Logarithmic  Scaling = "plus a constant times ln g" // the constant is in the definition
)

// Feature is one row of the catalogue: everything that is said about one
// column, and the function that computes it. Columns, their metadata and the
// printed dictionary are all made from it.
type Feature struct {
	Name       string  // what, where and in which unit, in snake case
	Level      Level   // cycle or recording
	Unit       string  // "1" for a pure number, "FS" for parts of full scale
	Definition string  // one line, as a formula
	Source     string  // publication, or "common practice", or "ours"
	Range      string  // the values that can occur
	Null       string  // when the value is null
	Scaling    Scaling // under a change of gain

	// Statistics are those over cycles that the recording's features hold.
	// Zero at the level of the recording.
	Statistics Statistics

	// One of the two is set, by level; neither for a statistic over cycles.
	ofCycle     func(*cycle) float64
	ofRecording func(*recording) float64
}

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
// their definitions and, where a row is silent, the usual scaling.
func group(level Level, parts ...[]Feature) []Feature {
	rows := slices.Concat(parts...)
	for i := range rows {
		rows[i].Level = level
		rows[i].Definition = explain(rows[i].Definition)
		if rows[i].Scaling == "" {
			rows[i].Scaling = Unchanged
		}
	}
	return rows
}

// symbols are what definitions are written in, each before those that its
// meaning speaks of.
var symbols = []struct{ name, meaning string }{
	{"P", "P the periodogram of x over the state (mean removed, periodic Hann window, 1024 points) at 25 ≤ f < 400 Hz"},
	{"W", "W the Welch spectrum of x (mean removed, Hann segments of 1.024 s, half overlapping)"},
	{"d", "d the details of the undecimated reverse biorthogonal spline wavelet transform (orders 3 and 9) of x"},
	{"h", "h the mean of A over successive 20 ms"},
	{"A", "A the Hilbert envelope of y"},
	{"y", "y the signal at 1 kHz band-limited to 25 to 400 Hz (Butterworth, order 2, forwards and backwards)"},
	{"z", "z the signal at 1 kHz band-limited to 150 to 400 Hz (Butterworth, order 4, forwards and backwards)"},
	{"x", "x the signal at 1 kHz, unfiltered"},
	{"v", "v every ⌊rate/2000⌋-th sample of raw, low-passed (Blackman-windowed sinc) to leave 0 to 800 Hz alone"},
	{"raw", "raw the samples in the file at its own rate"},
}

// explain appends the meanings of the symbols in a definition to it.
func explain(definition string) string {
	for _, s := range symbols {
		if standsIn(definition, s.name) && !strings.Contains(definition, s.meaning) {
			definition += "; " + s.meaning
		}
	}
	return definition
}

// standsIn reports whether a symbol stands in a definition on its own, not as a
// part of a word.
func standsIn(definition, symbol string) bool {
	rest := definition
	var before rune = ' '
	for {
		at := strings.Index(rest, symbol)
		if at < 0 {
			return false
		}
		if at > 0 {
			before, _ = utf8.DecodeLastRuneInString(rest[:at])
		}
		rest = rest[at+len(symbol):]
		after, _ := utf8.DecodeRuneInString(rest)
		if !inWord(before) && !inWord(after) {
			return true
		}
		before, _ = utf8.DecodeLastRuneInString(symbol)
	}
}

// inWord reports whether a rune is part of a word.
func inWord(r rune) bool { return r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r) }

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
