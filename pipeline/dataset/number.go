package dataset

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// maxTime bounds the times an annotation may name: eleven days, far beyond any
// recording and far within what time.Duration and int64 samples can hold.
const maxTime = 1_000_000 * time.Second

var (
	errNotNumber = errors.New("not a number")
	errTooLarge  = fmt.Errorf("beyond %.0f s", maxTime.Seconds())
)

// parseSeconds reads a number of seconds, to the nearest nanosecond. Binary
// fractions lose nothing here: up to maxTime their error is below a quarter of a
// nanosecond, so that a number of at most nine decimals is read exactly.
func parseSeconds(s string) (time.Duration, error) {
	x, err := parseDecimal(s)
	if err != nil {
		return 0, err
	}
	if !(x <= maxTime.Seconds() && x >= -maxTime.Seconds()) {
		return 0, errTooLarge
	}
	return pcg.FromSeconds(x), nil
}

// parseDecimal is strconv.ParseFloat without its hexadecimal numbers,
// infinities and NaN, which tables of data do not use.
func parseDecimal(s string) (float64, error) {
	if s == "" || strings.Trim(s, "+-.0123456789eE") != "" {
		return 0, errNotNumber
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, errNotNumber
	}
	return x, nil
}

// parseSample reads the number of a sample. Spreadsheets write 12345.0 or
// 1.2345e4 for 12345, which is taken; 12345.5 is not.
func parseSample(s string) (int64, error) {
	if n, err := strconv.ParseInt(s, 10, 64); err == nil {
		return n, nil
	}
	x, err := parseDecimal(s)
	if err != nil {
		return 0, err
	}
	const exact = 1 << 53
	if !(x < exact && x > -exact) {
		return 0, errTooLarge
	}
	n := int64(x)
	if float64(n) != x {
		return 0, errors.New("not a whole number of samples")
	}
	return n, nil
}

// sampleTime returns the time of a sample counted from 0.
func sampleTime(n int64, rate int) (time.Duration, error) {
	most := int64(maxTime/time.Second) * int64(rate)
	if n > most || n < -most {
		return 0, errTooLarge
	}
	return pcg.FromSamples(n, rate), nil
}

func digits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// seconds writes t as in messages: all its digits and no more.
func seconds(t time.Duration) string {
	return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + " s"
}

// milliseconds is seconds for short times.
func milliseconds(t time.Duration) string {
	return strconv.FormatFloat(float64(t)/float64(time.Millisecond), 'f', -1, 64) + " ms"
}
