package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// figure draws the average cycle: at the top the waveform of the most typical
// cycle, below the mean envelope with the band between its percentiles, and the
// names of the four states over both. The time axis ends at the given time or, if
// that is later, at the end of the cycle.
func (a *averageCycle) figure(name, title string, end time.Duration, width vg.Length) *figure {
	f := newFigure(name, title, width, 300)
	p := f.plot
	for _, size := range []*vg.Length{&p.X.Label.TextStyle.Font.Size, &p.X.Tick.Label.Font.Size, &p.Y.Tick.Label.Font.Size} {
		*size = 13
	}
	p.X.Min, p.X.Max = 0, milliseconds(max(end, a.length()))
	p.Y.Min, p.Y.Max = 0, 224
	p.X.Label.Text = "time from the start of S1, ms"
	p.X.Tick.Marker = ticksEvery(0, p.X.Max, 100, "%.0f")
	if p.X.Max > 1.6*float64(width) {
		p.X.Tick.Marker = ticksEvery(0, p.X.Max, 200, "%.0f")
	}
	wave, envelope := span{110, 200}, span{0, 96}
	p.Y.LineStyle.Width, p.Y.Tick.Length = 0, 0
	p.Y.Tick.Marker = plot.ConstantTicks{{Value: wave.at(0.5), Label: "sound"}, {Value: envelope.at(0.5), Label: "envelope"}}
	p.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		a.drawStateNames(&c, p, x)
		a.drawWave(&c, x, func(v float64) vg.Length { return y(wave.at(v)) })
		a.drawEnvelope(&c, x, func(v float64) vg.Length { return y(envelope.at(v)) })
	}))
	f.text = fmt.Sprintf("Average of %d cycles: S1 %.0f ms, systole %.0f ms, S2 %.0f ms, diastole %.0f ms, cycle %.0f ms.", a.Cycles,
		milliseconds(a.lengths[0]), milliseconds(a.lengths[1]), milliseconds(a.lengths[2]), milliseconds(a.lengths[3]), milliseconds(a.length()))
	return f
}

// span is a range of the y axis.
type span struct{ low, high float64 }

// at returns the position of a fraction of the range.
func (s span) at(fraction float64) float64 { return s.low + fraction*(s.high-s.low) }

// drawWave draws the typical waveform, scaled to its peak; y places fractions of
// the height.
func (a *averageCycle) drawWave(c *draw.Canvas, x func(float64) vg.Length, y func(float64) vg.Length) {
	peak := max(floats.Norm(a.wave, math.Inf(1)), math.SmallestNonzeroFloat64)
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.9}, line(a.wave, milliseconds(waveStep), x, func(v float64) vg.Length {
		return y(0.5 + v/peak/2)
	}))
}

// drawEnvelope draws the mean envelope over the band between its percentiles.
func (a *averageCycle) drawEnvelope(c *draw.Canvas, x func(float64) vg.Length, y func(float64) vg.Length) {
	highest := max(1, slices.Max(a.p90))
	points := func(values []float64) []vg.Point {
		return line(values, milliseconds(envelopeStep), x, func(v float64) vg.Length { return y(v / highest) })
	}
	band := points(a.p10)
	slices.Reverse(band)
	c.FillPolygon(translucent(bluishGreen, 0.3), append(points(a.p90), band...))
	c.StrokeLines(draw.LineStyle{Color: bluishGreen, Width: 2}, points(a.mean))
}

// drawStateNames shades the sounds, and separates and names the states.
func (a *averageCycle) drawStateNames(c *draw.Canvas, p *plot.Plot, x func(float64) vg.Length) {
	border := func(at float64) {
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{2, 2}}, x(at), c.Min.Y, x(at), c.Max.Y)
	}
	from := 0.0
	for k, state := range pcg.Cycle {
		to := from + milliseconds(a.lengths[k])
		if state.IsSound() {
			c.FillPolygon(translucent(stateColour(state), 0.16), rectangle(x(from), c.Min.Y, x(to), c.Max.Y))
		}
		if k > 0 {
			border(from)
		}
		style := smallText(p, draw.XCenter, draw.YTop)
		style.Font.Size = 14
		if room := x(to) - x(from) - 2; style.Width(state.String()) > room {
			style.Font.Size *= max(room/style.Width(state.String()), 0.6)
		}
		c.FillText(style, vg.Point{X: x((from + to) / 2), Y: c.Max.Y - 2}, state.String())
		from = to
	}
	if from < p.X.Max {
		border(from)
	}
}

// line returns the points of values at equal distances in time.
func line(values []float64, step float64, x, y func(float64) vg.Length) []vg.Point {
	points := make([]vg.Point, len(values))
	for i, v := range values {
		points[i] = vg.Point{X: x(float64(i) * step), Y: y(v)}
	}
	return points
}
