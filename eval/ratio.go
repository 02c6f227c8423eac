package eval

import (
	"encoding/json"
	"fmt"
	"math"
)

// Ratio is a fraction of 1, or null where its denominator is zero. Null is NaN
// in memory and null in JSON.
type Ratio float64

// null is the ratio that is not there.
func null() Ratio { return Ratio(math.NaN()) }

// Null reports whether there is no ratio.
func (r Ratio) Null() bool { return math.IsNaN(float64(r)) }

// MarshalJSON implements json.Marshaler.
func (r Ratio) MarshalJSON() ([]byte, error) {
	if r.Null() {
		return []byte("null"), nil
	}
	return json.Marshal(float64(r))
}

// UnmarshalJSON implements json.Unmarshaler.
func (r *Ratio) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*r = null()
		return nil
	}
	return json.Unmarshal(b, (*float64)(r))
}

// Percent returns r as a percentage with one decimal, or a dash.
func (r Ratio) Percent() string {
	if r.Null() {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(r))
}

// ratio returns a/b, or null if b is zero.
func ratio(a, b float64) Ratio {
	if b == 0 {
		return null()
	}
	return Ratio(a / b)
}

// Recall returns TP/(TP+FN), the sensitivity.
func Recall(tp, fn int) Ratio { return ratio(float64(tp), float64(tp+fn)) }

// Precision returns TP/(TP+FP), the positive predictive value.
func Precision(tp, fp int) Ratio { return ratio(float64(tp), float64(tp+fp)) }

// F1 returns 2TP/(2TP+FP+FN), the harmonic mean of precision and recall.
func F1(tp, fp, fn int) Ratio { return ratio(float64(2*tp), float64(2*tp+fp+fn)) }
