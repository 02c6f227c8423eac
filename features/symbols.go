package features

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"phonocycle/pipeline/signal"
)

// symbols are what definitions are written in, each before those that its
// meaning speaks of, and the lowest sampling rate of a file that can hold them.
// The signal at 1 kHz keeps 0.4 of the lower of the two rates, so that a file of
// less than 1000 Hz cannot fill the band up to 400 Hz: what is measured there
// would be the floor of the filter.
var symbols = []struct {
	name, meaning string
	minRate       int // Hz
}{
	{"P", "P the periodogram of x over the state (mean removed, periodic Hann window, 1024 points, of a longer state the mean over segments) at 25 ≤ f < 400 Hz", signal.AnalysisRate},
	{"W", "W the Welch spectrum of x (mean removed, Hann segments of 1.024 s, half overlapping)", signal.AnalysisRate},
	{"d", "d the details of the undecimated reverse biorthogonal spline wavelet transform (orders 3 and 9) of x", signal.AnalysisRate},
	{"h", "h the mean of A over successive 20 ms", signal.AnalysisRate},
	{"A", "A the Hilbert envelope of y", signal.AnalysisRate},
	{"y", "y the signal at 1 kHz band-limited to 25 to 400 Hz (Butterworth, order 2, forwards and backwards)", signal.AnalysisRate},
	{"z", "z the signal at 1 kHz band-limited to 150 to 400 Hz (Butterworth, order 4, forwards and backwards)", signal.AnalysisRate},
	{"x", "x the signal at 1 kHz, unfiltered", signal.AnalysisRate},
	{"v", "v every ⌊rate/2000⌋-th sample of raw, low-passed (Blackman-windowed sinc) to leave 0 to 800 Hz alone", highRate},
	{"raw", "raw the samples in the file at its own rate", 0},
}

// explain appends the meanings of the symbols in the definition of f to it, and
// says of files that cannot hold them that the value is null.
func explain(f *Feature) {
	words := wordsOf(f.Definition)
	for _, s := range symbols {
		if !slices.Contains(words, s.name) {
			continue
		}
		f.MinRate = max(f.MinRate, s.minRate)
		if !strings.Contains(f.Definition, s.meaning) {
			f.Definition += "; " + s.meaning
			words = append(words, wordsOf(s.meaning)...)
		}
	}
	if f.MinRate > 0 {
		f.Null = strings.TrimPrefix(f.Null+", or ", never+", or ") + fmt.Sprintf("the file has less than %d Hz", f.MinRate)
	}
}

// wordsOf returns the runs of letters, digits and underscores in s.
func wordsOf(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool {
		return r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}
