package ecg

import (
	"math"
	"slices"
	"time"
)

// The detector of Zong W., Moody G. B., Jiang D. A robust open-source algorithm to
// detect onset and duration of QRS complexes. Computers in Cardiology
// 2003;30:737–740, doi 10.1109/CIC.2003.1291261 (all constants from memory). With
// x the ECG below 16 Hz and x' its slope:
//
//	L(t) = ∫ (√(s² + x'(u)²) − s) du,  u from t − 65 ms to t + 65 ms,
//
// the length of the curve over the longest usual QRS complex, less that of a flat
// line. The unit of time in which a length is drawn is free; the slope s says which
// slope counts as steep. A QRS complex begins where L exceeds a third of the base. The
// base moves towards each maximum of L by a tenth of the difference. For
// 250 ms after a beat begins no other is looked for (eye-closing).
//
// Ours: the length is centred and the filter is a Butterworth filter that runs
// forwards and backwards, so that nothing is delayed; its edge is at 20 Hz, so that
// both ways together have the paper's 16 Hz. s is the largest slope of a typical
// beat, so that slow waves count by their square. A beat is marked at the middle of
// the stretch in which L exceeds half of its maximum; the paper seeks the onset. It
// must have risen to one and a half times its lowest value since the last beat, so
// that one long stretch of noise is not many beats. What
// follows within 360 ms with less than half of the length of the last beat is a T
// wave, as in pan_tompkins.go. The base begins with what a first pass over the whole
// recording ends with, which begins at the length of a typical beat. In moving it a
// maximum counts for no more than twice the base, so that an artefact does not hide
// the beats after it. After two seconds without a beat the base falls, by half every
// two seconds, but not below a quarter of the length of a typical beat: noise where
// nothing beats is no beat.
const (
	lengthOrder      = 2
	lengthHigh       = 20 // Hz
	lengthWindow     = 130 * time.Millisecond
	lengthThreshold  = 1. / 3
	lengthWeight     = 0.1
	lengthEyeClosing = 250 * time.Millisecond
	lengthMiddle     = 0.5
	lengthRise       = 1.5
	lengthTWave      = panTWave
	lengthTShare     = 0.5
	lengthMost       = 2
	lengthPatience   = 2 * time.Second
	lengthLeast      = 0.25
)

// lengthTransform returns marks of QRS complexes in x, ascending.
func lengthTransform(x []float64, fs float64) []int {
	length := curveLength(x, fs)
	typical := typicalHeight(length, fs)
	l := lengthDetector{
		length:     length,
		base:       typical,
		least:      lengthLeast * typical,
		eyeClosing: samples(lengthEyeClosing, fs),
		tWave:      samples(lengthTWave, fs),
		patience:   samples(lengthPatience, fs),
	}
	l.run() // learns the base
	return l.run()
}

// curveLength returns L of x, in units of s times a sample.
func curveLength(x []float64, fs float64) []float64 {
	low := lowPass(x, lengthOrder, lengthHigh, fs)
	slope := make([]float64, len(low))
	for i := 1; i < len(low)-1; i++ {
		slope[i] = math.Abs(low[i+1] - low[i-1])
	}
	steep := typicalHeight(slope, fs)
	for i, v := range slope {
		slope[i] = math.Sqrt(1+v/steep*(v/steep)) - 1
	}
	return windowMean(slope, samples(lengthWindow/2, fs))
}

// lengthDetector finds beats in the length of the curve.
type lengthDetector struct {
	length                      []float64
	base, least                 float64
	eyeClosing, tWave, patience int // samples
}

// run returns the marks in the whole recording, and begins with the base at which
// the run before ended.
func (l *lengthDetector) run() []int {
	var marks []int
	fall := math.Exp2(-1 / float64(l.patience)) // a sample
	start, top := -l.eyeClosing, -1             // of the last beat
	lowest := math.Inf(1)                       // since its top
	for i, length := range l.length {
		if i > top {
			lowest = min(lowest, length)
		}
		if i-start > l.patience {
			l.base = max(l.least, l.base*fall)
		}
		if i-start < l.eyeClosing || length <= max(lengthThreshold*l.base, lengthRise*lowest) {
			continue
		}
		next := i + indexOfMax(l.length[i:min(i+l.eyeClosing, len(l.length))])
		if len(marks) > 0 && l.isTWave(next, marks[len(marks)-1]) {
			continue
		}
		start, top, lowest = i, next, math.Inf(1)
		l.base += lengthWeight * (min(l.length[top], lengthMost*l.base) - l.base)
		marks = append(marks, l.middle(top))
	}
	return marks
}

// isTWave reports whether a maximum is too near the last mark, and too low, for a
// beat of its own.
func (l *lengthDetector) isTWave(top, mark int) bool {
	return top-mark < l.tWave && l.length[top] < lengthTShare*l.length[mark]
}

// middle returns the middle of the stretch around top in which the length exceeds
// half of that at top.
func (l *lengthDetector) middle(top int) int {
	first, last := top, top
	for first > 0 && l.length[first-1] > lengthMiddle*l.length[top] {
		first--
	}
	for last < len(l.length)-1 && l.length[last+1] > lengthMiddle*l.length[top] {
		last++
	}
	return (first + last) / 2
}

func indexOfMax(y []float64) int { return slices.Index(y, slices.Max(y)) }
