package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"phonocycle/eval"
)

// bounds prints an interval in percent, or a dash.
func bounds(low, high eval.Ratio) string {
	if low.Null() || high.Null() {
		return "–"
	}
	return low.Percent() + " to " + high.Percent()
}

// inParentheses prints an interval in percent after its estimate, or nothing.
func inParentheses(low, high eval.Ratio) string {
	if low.Null() || high.Null() {
		return ""
	}
	return " (" + bounds(low, high) + ")"
}

// signed prints a difference with its sign and one decimal, or a dash.
func signed(r eval.Ratio) string {
	if r.Null() {
		return "–"
	}
	rounded := math.Round(10*float64(r))/10 + 0 // + 0 turns -0 into 0
	return strings.Replace(fmt.Sprintf("%+.1f", rounded), "-", "\u2212", 1)
}

// sentence begins text with a capital.
func sentence(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// shorten cuts text to at most the given number of characters.
func shorten(text string, most int) string {
	letters := []rune(text)
	if len(letters) <= most {
		return text
	}
	return string(letters[:most-1]) + "…"
}

func milliseconds(t time.Duration) float64 { return float64(t) / float64(time.Millisecond) }
