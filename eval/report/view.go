package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// View is a section of one recording as a reader sees and hears it: waveform,
// envelope, reference and predictions over one time axis.
type View struct {
	Recording string
	Facts     []Fact // shown above the figure, in this order
	From, To  time.Duration
	Sound          // of the section; empty where there is no audio
	Silent    bool // the sound is drawn and not played
	ECG       ECG  // of the section; empty where there is none

	Reference pcg.Reference
	S1Only    bool    // the reference marks no S2
	Tracks    []Track // predictions

	StatesName string // shown in place of "reference"

	id            string // of its figure and of its element in a page
	statesApart   bool   // the states of the reference are a layer of their own; see stateLayer
	noSpectrogram bool
}

func (v *View) referenceName() string { return cmp.Or(v.StatesName, "reference") }

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Track is the segmentation of a recording by one method.
type Track struct {
	Name      string
	Intervals []pcg.Interval
	Points    []pcg.Point // where the method gives no durations
}

// Sound holds the samples of a recording and its envelope, with their sampling
// rates in hertz.
type Sound struct {
	Wave, Envelope         []float64
	WaveRate, EnvelopeRate int
}

// Between returns a copy of the section [from, to).
func (s *Sound) Between(from, to time.Duration) Sound {
	section := func(x []float64, rate int) []float64 {
		a, b := pcg.ToSamples(from, rate), pcg.ToSamples(to, rate)
		return slices.Clone(x[min(a, len(x)):min(b, len(x))])
	}
	return Sound{section(s.Wave, s.WaveRate), section(s.Envelope, s.EnvelopeRate), s.WaveRate, s.EnvelopeRate}
}

// Window returns the section of the given width that has the most annotated time
// or, for point annotations, the most points. Sections start at multiples of
// 0.5 s; of equal ones the first is chosen. A recording with length of at most
// width is returned whole.
func Window(ref *pcg.Reference, length, width time.Duration) (from, to time.Duration) {
	const step = 500 * time.Millisecond
	if length <= width {
		return 0, length
	}
	most := -1.0
	for t := time.Duration(0); t+width <= length; t += step {
		if amount := annotated(ref, t, t+width); amount > most {
			most, from = amount, t
		}
	}
	return from, from + width
}

// annotated returns the annotated seconds in [from, to), or the number of points.
func annotated(ref *pcg.Reference, from, to time.Duration) float64 {
	var sum time.Duration
	for _, iv := range ref.Intervals {
		sum += max(0, min(iv.End, to)-max(iv.Start, from))
	}
	n := 0
	for _, p := range ref.Points {
		if p.At >= from && p.At < to {
			n++
		}
	}
	return sum.Seconds() + float64(n)
}

// within returns the parts of intervals that lie in the view.
func (v *View) within(intervals []pcg.Interval) []pcg.Interval {
	var parts []pcg.Interval
	for _, iv := range intervals {
		iv.Start, iv.End = max(iv.Start, v.From), min(iv.End, v.To)
		if iv.Start < iv.End && iv.State != pcg.Unannotated {
			parts = append(parts, iv)
		}
	}
	return parts
}

// text describes the figure of the view.
func (v *View) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%.1f to %.1f s of the recording.", v.From.Seconds(), v.To.Seconds())
	describe := func(name string, intervals []pcg.Interval, points []pcg.Point, s1Only bool) {
		var n [5]int
		for _, iv := range v.within(intervals) {
			n[iv.State]++
		}
		for _, p := range points {
			if p.At >= v.From && p.At < v.To {
				n[p.Sound]++
			}
		}
		fmt.Fprintf(&b, " %s: %d S1", name, n[pcg.S1])
		if !s1Only {
			fmt.Fprintf(&b, " and %d S2", n[pcg.S2])
		}
		b.WriteString(".")
	}
	if !v.statesApart {
		describe(v.referenceName(), v.Reference.Intervals, v.Reference.Points, v.S1Only)
	}
	for _, t := range v.Tracks {
		describe(t.Name, t.Intervals, t.Points, false)
	}
	b.WriteString(v.ecgText())
	return b.String()
}
