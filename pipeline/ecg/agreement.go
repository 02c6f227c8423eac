package ecg

import (
	"cmp"
	"slices"
	"time"

	"phonocycle/pipeline/signal"
)

// Result is what two detectors find in an ECG. All numbers count samples from 0.
type Result struct {
	Agreed   []int  // R waves that both find, ascending
	Disputed []int  // R waves that one finds alone, ascending
	Unsure   []Span // from one of Agreed to the next, where the beats between are not known; ascending, disjoint
}

// Span is a stretch of samples from Start to End.
type Span struct{ Start, End int }

// Agreement returns the share of beats that both detectors find among those that
// at least one finds, from 0 to 1; 0 where neither finds any.
func (r *Result) Agreement() float64 {
	all := len(r.Agreed) + len(r.Disputed)
	if all == 0 {
		return 0
	}
	return float64(len(r.Agreed)) / float64(all)
}

// Tolerance is how far apart two detectors may place an R wave on which they agree.
const Tolerance = 60 * time.Millisecond

// longInterval is the multiple of the recording's median interval between R waves
// beyond which a beat may be lost to both detectors: the limit at which Pan and
// Tompkins 1985 search back.
const longInterval = panSearchBack

// agree compares the R waves of two detectors. Where these differ by no more than
// the tolerance, the R wave is the earlier of the two.
//
// The time between two R waves of agreement is unsure where a detector finds a beat
// alone, where samples are missing, and where it is long.
func agree(first, second []int, missing []Span, fs float64) Result {
	var r Result
	within := samples(Tolerance, fs)
	for len(first) > 0 && len(second) > 0 {
		a, b := first[0], second[0]
		switch {
		case max(a, b)-min(a, b) <= within:
			r.Agreed = append(r.Agreed, min(a, b))
			first, second = first[1:], second[1:]
		case a < b:
			r.Disputed = append(r.Disputed, a)
			first = first[1:]
		default:
			r.Disputed = append(r.Disputed, b)
			second = second[1:]
		}
	}
	r.Disputed = append(append(r.Disputed, first...), second...)
	r.Unsure = unsure(&r, missing)
	return r
}

// unsure returns the stretches between successive R waves of agreement in which the
// beats are not known.
func unsure(r *Result, missing []Span) []Span {
	longest := longInterval * medianInterval(r.Agreed)
	var spans []Span
	for i := 1; i < len(r.Agreed); i++ {
		s := Span{r.Agreed[i-1], r.Agreed[i]}
		if float64(s.End-s.Start) > longest || s.holds(r.Disputed) || s.meets(missing) {
			spans = append(spans, s)
		}
	}
	return spans
}

// medianInterval returns the median time between neighbours, in samples.
func medianInterval(beats []int) float64 {
	var intervals []float64
	for i := 1; i < len(beats); i++ {
		intervals = append(intervals, float64(beats[i]-beats[i-1]))
	}
	slices.Sort(intervals)
	return signal.Quantile(intervals, 0.5)
}

// holds reports whether one of the ascending samples lies in s.
func (s Span) holds(at []int) bool {
	i, _ := slices.BinarySearch(at, s.Start)
	return i < len(at) && at[i] < s.End
}

// meets reports whether s overlaps one of the ascending, disjoint spans.
func (s Span) meets(others []Span) bool {
	i, _ := slices.BinarySearchFunc(others, s.Start, func(o Span, start int) int { return cmp.Compare(o.End-1, start) })
	return i < len(others) && others[i].Start < s.End
}
