package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/signal"
)

// ECG is the electrocardiogram that was recorded with a sound.
type ECG struct {
	Wave   []float64       // in any unit
	Rate   float64         // samples per second
	RWaves []time.Duration // from the start of the recording, ascending
}

// Between returns a copy of the section [from, to).
func (e *ECG) Between(from, to time.Duration) ECG {
	at := func(t time.Duration) int { return min(int(math.Round(t.Seconds()*e.Rate)), len(e.Wave)) }
	section := ECG{Wave: slices.Clone(e.Wave[at(from):at(to)]), Rate: e.Rate}
	for _, r := range e.RWaves {
		if r >= from && r < to {
			section.RWaves = append(section.RWaves, r)
		}
	}
	return section
}

// nearR is the time before and behind an R wave that the scale of an ECG is taken from.
const nearR = 100 * time.Millisecond

// scale returns the values at the bottom and the top of the drawing of a section that
// starts at from: the medians of the minima and of the maxima near R waves, and room
// of a third of their difference for the other waves. Beyond, as in baseline wander
// and artefacts, the drawing is clipped. Without R waves they are minimum and maximum.
func (e *ECG) scale(from time.Duration) (low, high float64) {
	var lows, highs []float64
	for _, r := range e.RWaves {
		near := e.Between(max(r-nearR-from, 0), r+nearR-from).Wave
		lows, highs = append(lows, slices.Min(near)), append(highs, slices.Max(near))
	}
	if len(lows) == 0 {
		return slices.Min(e.Wave), slices.Max(e.Wave)
	}
	slices.Sort(lows)
	slices.Sort(highs)
	low, high = signal.Quantile(lows, 0.5), signal.Quantile(highs, 0.5)
	room := (high - low) / 3
	return low - room, high + room
}

// drawECG draws the range of the samples in each column one point wide, and a triangle
// above each R wave.
func (v *View) drawECG(c *draw.Canvas, p *plot.Plot, l *strip) {
	x, y := p.Transforms(c)
	const mark = 7 // points for the triangles
	low, high := v.ECG.scale(v.From)
	at := func(s float64) vg.Length {
		if low == high {
			return y((l.low + l.top) / 2)
		}
		return y(l.low + (l.top-mark-l.low)*min(max((s-low)/(high-low), 0), 1))
	}
	var line []vg.Point
	eachColumn(c, p, v.ECG.Wave, v.ECG.Rate, v.From, func(x vg.Length, part []float64) {
		line = append(line, vg.Point{X: x, Y: at(slices.Min(part))}, vg.Point{X: x, Y: at(slices.Max(part))})
	})
	c.StrokeLines(draw.LineStyle{Color: reddishPurple, Width: 0.9}, line)
	for _, r := range v.ECG.RWaves {
		tip := vg.Point{X: x(r.Seconds()), Y: y(l.top - mark + 1)}
		c.FillPolygon(reddishPurple, []vg.Point{tip, {X: tip.X - 3, Y: tip.Y + 5}, {X: tip.X + 3, Y: tip.Y + 5}})
	}
}

// ecgText says in the description of a view what the ECG shows.
func (v *View) ecgText() string {
	if len(v.ECG.Wave) == 0 {
		return ""
	}
	return fmt.Sprintf(" ECG: %d R waves.", len(v.ECG.RWaves))
}
