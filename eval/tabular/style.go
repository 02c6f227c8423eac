package tabular

import (
	"fmt"
	"strings"
)

// Style says how a number is printed, as [Percent] does, and in which unit it then
// stands.
type Style struct {
	unit  string
	print func(float64) string
	exact func(float64) string // for CSV, where print gives no number
}

// The styles.
var (
	// Percent prints a fraction in percent, with one decimal.
	Percent = Style{unit: "percent", print: func(v float64) string { return fmt.Sprintf("%.1f", 100*v) }}

	// Points prints a difference of fractions in percentage points, to the tenth: more
	// digits of an interval would change with the seed of its resamples.
	Points = Style{unit: "points", print: func(v float64) string { return fmt.Sprintf("%+.1f", 100*v) }}

	// Fraction prints a fraction of 1 with three decimals.
	Fraction = Style{unit: "fraction", print: Thousandths.print}

	// Whole prints a whole number.
	Whole = Style{print: func(v float64) string { return fmt.Sprintf("%.0f", v) }}

	// Exact prints a number as short as it can be without loss.
	Exact = Style{print: func(v float64) string { return fmt.Sprint(v) }}

	// Tenths prints one decimal.
	Tenths = Style{print: func(v float64) string { return fmt.Sprintf("%.1f", v) }}

	// Thousandths prints three decimals.
	Thousandths = Style{print: func(v float64) string { return fmt.Sprintf("%.3f", v) }}

	// Signed prints one decimal and the sign.
	Signed = Style{print: func(v float64) string { return fmt.Sprintf("%+.1f", v) }}

	// PValue prints p to two digits, and as below 0.0001 where it is.
	PValue = Style{exact: twoDigits, print: func(v float64) string {
		if v < 0.0001 {
			return "< 0.0001"
		}
		return twoDigits(v)
	}}
)

func twoDigits(v float64) string { return fmt.Sprintf("%.2g", v) }

// In returns the style with the unit of its numbers, for a column whose name does
// not say it.
func (s Style) In(unit string) Style {
	s.unit = unit
	return s
}

// csv prints a number for CSV.
func (s Style) csv(v float64) string {
	if s.exact != nil {
		return s.exact(v)
	}
	return trimSign(s.print(v))
}

// trimSign takes away the plus of a signed number.
func trimSign(number string) string { return strings.TrimPrefix(number, "+") }
