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

// counts holds the counts of the ratios.
type counts struct{ tp, fp, fn int }

func (t *counts) plus(u counts) { t.tp += u.tp; t.fp += u.fp; t.fn += u.fn }

func (t counts) f1() Ratio { return F1(t.tp, t.fp, t.fn) }

// numberOfRatios is that of the ratios of counts.
const numberOfRatios = 3

// ratios returns recall, precision and F1.
func (t counts) ratios() [numberOfRatios]Ratio {
	return [numberOfRatios]Ratio{Recall(t.tp, t.fn), Precision(t.tp, t.fp), t.f1()}
}

// classCounts holds the counts of S1 and of S2.
type classCounts [classes]counts

// of returns the counts of a class, or of both together.
func (n classCounts) of(class Class) counts {
	if class != Both {
		return n[class]
	}
	sum := n[S1]
	sum.plus(n[S2])
	return sum
}

// countColumns is the number of sums that hold classCounts.
const countColumns = 3 * classes

// countsIn reads counts from the first of sums: TP, FP and FN of S1 and of S2.
func countsIn(sums []float64) (n classCounts) {
	for class := range n {
		at := sums[3*class:]
		n[class] = counts{int(at[0]), int(at[1]), int(at[2])}
	}
	return n
}

// addTo adds the counts of a class to sums that countsIn reads.
func (t counts) addTo(sums []float64, class Class) {
	at := sums[3*class:]
	at[0] += float64(t.tp)
	at[1] += float64(t.fp)
	at[2] += float64(t.fn)
}
