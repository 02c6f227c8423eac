package choose

import (
	"fmt"
	"strconv"
	"strings"

	"phonocycle/pipeline/table"
)

// Range is a closed range of numbers, of which either end may be open. The zero value
// holds every value, also an unknown one.
type Range struct {
	low, high       float64
	hasLow, hasHigh bool
}

// String returns the range as UnmarshalText reads it.
func (r *Range) String() string {
	var low, high string
	if r.hasLow {
		low = table.NumberText(r.low)
	}
	if r.hasHigh {
		high = table.NumberText(r.high)
	}
	if low+high == "" {
		return ""
	}
	return low + "-" + high
}

// UnmarshalText reads a range such as 60-90, 60- or -90.
func (r *Range) UnmarshalText(text []byte) error {
	wrong := fmt.Errorf("%q is not a range such as 60-90, 60- or -90", text)
	low, high, ok := strings.Cut(string(text), "-")
	if !ok || low+high == "" {
		return wrong
	}
	*r = Range{hasLow: low != "", hasHigh: high != ""}
	for _, end := range []struct {
		text string
		into *float64
	}{{low, &r.low}, {high, &r.high}} {
		if end.text == "" {
			continue
		}
		x, err := strconv.ParseFloat(end.text, 64)
		if err != nil || !(x >= 0) {
			return wrong
		}
		*end.into = x
	}
	if r.hasLow && r.hasHigh && r.low > r.high {
		return fmt.Errorf("range %s: the first number is above the second", text)
	}
	return nil
}

// holds reports whether x lies in the range; an unknown x lies in no range with an end.
func (r *Range) holds(x float64) bool {
	if !r.hasLow && !r.hasHigh {
		return true
	}
	return x == x && (!r.hasLow || x >= r.low) && (!r.hasHigh || x <= r.high)
}

// words writes a range with an end in a unit.
func (r *Range) words(unit string) string {
	switch {
	case !r.hasHigh:
		return fmt.Sprintf("%g %s or more", r.low, unit)
	case !r.hasLow:
		return fmt.Sprintf("%g %s or less", r.high, unit)
	}
	return fmt.Sprintf("%g to %g %s", r.low, r.high, unit)
}
