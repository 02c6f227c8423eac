package features

import (
	"slices"
	"strings"
	"unicode"
)

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
	words := wordsOf(definition)
	for _, s := range symbols {
		if slices.Contains(words, s.name) && !strings.Contains(definition, s.meaning) {
			definition += "; " + s.meaning
			words = append(words, wordsOf(s.meaning)...)
		}
	}
	return definition
}

// wordsOf returns the runs of letters, digits and underscores in s.
func wordsOf(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool {
		return r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}
