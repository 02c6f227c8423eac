package degrade

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// change is what happens to a recording.
type change interface {
	// apply returns the changed samples and their rate in hertz. It may use the memory
	// of x, or that of w.
	apply(w *workspace, x []float64, rate int, rng *rand.Rand) ([]float64, int, error)

	// String returns the change as [Parse] reads it.
	String() string
}

// kind is a kind of change. To add one, write a file that declares it, and name it in
// kinds.
type kind struct {
	key     string // whose value is the first of make
	more    string // key of the second value, empty for none
	example string // as a user writes it
	make    func(value, more string) (change, error)
}

// number reads a number from low to high.
func number(key, value string, low, high float64, what string) (float64, error) {
	v, err := strconv.ParseFloat(value, 64)
	if err != nil || !(v >= low && v <= high) {
		return 0, fmt.Errorf("%s=%s: want %s from %g to %g", key, value, what, low, high)
	}
	return v + 0, nil // no −0
}

// whole reads a whole number from low to high.
func whole(key, value string, low, high int, what string) (int, error) {
	v, err := strconv.Atoi(value)
	if err != nil || v < low || v > high {
		return 0, fmt.Errorf("%s=%s: want %s from %d to %d", key, value, what, low, high)
	}
	return v, nil
}

// share reads a share above 0 and below 1.
func share(key, value string) (float64, error) {
	v, err := strconv.ParseFloat(value, 64)
	if err != nil || !(v > 0 && v < 1) {
		return 0, fmt.Errorf("%s=%s: want the share of the samples, above 0 and below 1, such as 0.05", key, value)
	}
	return v, nil
}

// length reads a length of time.
func length(key, value string, low, high time.Duration) (time.Duration, error) {
	v, err := time.ParseDuration(value)
	if err != nil || v < low || v > high {
		return 0, fmt.Errorf("%s=%s: want a time from %v to %v, such as 200ms", key, value, low, high)
	}
	return v, nil
}

// shortest prints a number in its shortest form.
func shortest(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// count returns the share of n samples, to the nearest whole number.
func count(share float64, n int) int { return int(math.Round(share * float64(n))) }
