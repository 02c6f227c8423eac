package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// RToS1 are the times from the R waves of an ECG to the predicted S1, of a run that is
// scored against the ECG. They are counted in steps of a millisecond; the outermost
// steps also count all times beyond them.
type RToS1 struct {
	delay   time.Duration // from R to the S1 of the reference
	beats   int
	without int // of the beats, in recordings without a predicted S1
	counts  [rToS1Last - rToS1First + 1]int
}

// Times in milliseconds: S2, for which S1 is mistaken where both are exchanged,
// follows R after 300 to 450 ms.
const (
	rToS1First = -200
	rToS1Last  = 499
	rToS1Bar   = 10 // of the histogram
)

// NewRToS1 returns a count of no beats of references whose S1 lie by delay after R.
func NewRToS1(delay time.Duration) *RToS1 { return &RToS1{delay: delay} }

// Add adds the beats of one recording: for each S1 of its reference the time from R to
// the nearest predicted S1. Predicted times ascend.
func (b *RToS1) Add(reference, predicted []time.Duration) {
	b.beats += len(reference)
	if len(predicted) == 0 {
		b.without += len(reference)
		return
	}
	for _, at := range reference {
		i, _ := slices.BinarySearch(predicted, at)
		if i == len(predicted) || i > 0 && at-predicted[i-1] <= predicted[i]-at {
			i--
		}
		ms := int(math.Floor(milliseconds(predicted[i] - at + b.delay)))
		b.counts[min(max(ms, rToS1First), rToS1Last)-rToS1First]++
	}
}

// quantile returns the time in milliseconds, to the middle of its step, that the share
// q of the beats with a predicted S1 does not exceed.
func (b *RToS1) quantile(q float64) float64 {
	need := int(math.Ceil(q * float64(b.beats-b.without)))
	sum := 0
	for i, n := range b.counts {
		if sum += n; sum >= max(need, 1) {
			return float64(rToS1First+i) + 0.5
		}
	}
	return math.NaN()
}

// bars returns the share of the beats in each bar of the histogram, in percent.
func (b *RToS1) bars() (shares []float64) {
	for part := range slices.Chunk(b.counts[:], rToS1Bar) {
		sum := 0
		for _, n := range part {
			sum += n
		}
		shares = append(shares, 100*float64(sum)/float64(b.beats))
	}
	return shares
}

// rToS1Figure draws the histogram of the times from R to S1, with the S1 of the
// reference and the tolerance in milliseconds around it.
func rToS1Figure(b *RToS1, tolerance float64) *figure {
	f := newFigure("r-to-s1", "Time from the R wave of the ECG to S1", narrow, 190)
	bars := b.bars()
	highest := slices.Max(bars)
	delay := milliseconds(b.delay)
	f.plot.X.Min, f.plot.X.Max = rToS1First, rToS1Last+1
	f.plot.Y.Min, f.plot.Y.Max = 0, max(1.05*highest, 1)
	f.plot.X.Label.Text = "R wave to nearest predicted S1, ms"
	f.plot.Y.Label.Text = "share of beats, %"
	f.plot.X.Tick.Marker = ticksEvery(rToS1First, rToS1Last+1, 100, "%.0f")
	step := 1.0
	for _, s := range []float64{2, 5, 10, 20} {
		if highest/step > 5 {
			step = s
		}
	}
	f.plot.Y.Tick.Marker = ticksEvery(0, f.plot.Y.Max, step, "%.0f")
	f.grid(false, true)
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		c.FillPolygon(translucent(bluishGreen, 0.13), c.ClipPolygonX(rectangle(x(delay-tolerance), c.Min.Y, x(delay+tolerance), c.Max.Y)))
		s := styleOf(0)
		outline := []vg.Point{{X: x(rToS1First), Y: y(0)}}
		for i, share := range bars {
			left := float64(rToS1First + i*rToS1Bar)
			outline = append(outline, vg.Point{X: x(left), Y: y(share)}, vg.Point{X: x(left + rToS1Bar), Y: y(share)})
		}
		outline = append(outline, vg.Point{X: x(rToS1Last + 1), Y: y(0)})
		c.FillPolygon(translucent(s.colour, 0.35), outline)
		c.StrokeLines(draw.LineStyle{Color: s.colour, Width: 0.9}, outline)
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.2, Dashes: []vg.Length{4, 2}}, x(delay), c.Min.Y, x(delay), c.Max.Y)
	}))
	f.text = b.text(tolerance)
	return f
}

// text describes the histogram.
func (b *RToS1) text(tolerance float64) string {
	text := fmt.Sprintf("%d beats. The reference expects S1 %g ms after the R wave; the tolerance is %g ms.", b.beats, milliseconds(b.delay), tolerance)
	if b.beats > b.without {
		text += fmt.Sprintf(" The nearest predicted S1 follows after a median of %.0f ms (5 %% of the beats before %.0f, 95 %% before %.0f).",
			b.quantile(0.5), b.quantile(0.05), b.quantile(0.95))
	}
	if b.without > 0 {
		text += fmt.Sprintf(" %d beats lie in recordings without a predicted S1.", b.without)
	}
	return text
}
