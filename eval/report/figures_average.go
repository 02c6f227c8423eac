package report

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// Figure draws the average cycle: above, the sound of its most typical beat;
// below, the mean envelope within its spread; the four states named along both.
func (a *Average) Figure() *Figure {
	const (
		soundLow, soundTop       = 110, 200
		envelopeLow, envelopeTop = 0, 96
	)
	f := newFigure("average", "The average cycle", 560, 300)
	p := f.plot
	for _, size := range []*vg.Length{&p.X.Label.TextStyle.Font.Size, &p.X.Tick.Label.Font.Size, &p.Y.Tick.Label.Font.Size} {
		*size = 13
	}
	p.X.Min, p.X.Max = 0, milliseconds(a.Length())
	p.Y.Min, p.Y.Max = 0, soundTop+24
	p.X.Label.Text = "time from the start of S1, ms"
	p.X.Tick.Marker = steps(0, p.X.Max, 100, "%.0f")
	if p.X.Max > 900 {
		p.X.Tick.Marker = steps(0, p.X.Max, 200, "%.0f")
	}
	p.Y.LineStyle.Width, p.Y.Tick.Length = 0, 0
	p.Y.Tick.Marker = plot.ConstantTicks{
		{Value: (soundLow + soundTop) / 2, Label: "sound"}, {Value: (envelopeLow + envelopeTop) / 2, Label: "loudness"},
	}
	p.Add(drawing(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		a.drawStateNames(&c, p, x)
		peak := 0.0
		for _, s := range a.Typical {
			peak = max(peak, math.Abs(s))
		}
		middle, half := float64(soundLow+soundTop)/2, float64(soundTop-soundLow)/2
		c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.9}, trace(a.Typical, milliseconds(typicalStep), func(v float64) float64 {
			if peak > 0 {
				v /= peak
			}
			return middle + half*v
		}, x, y))
		highest := 1.0
		for _, v := range a.High {
			highest = max(highest, v)
		}
		level := func(v float64) float64 { return envelopeLow + (envelopeTop-envelopeLow)*v/highest }
		outline := trace(a.High, milliseconds(averageStep), level, x, y)
		low := trace(a.Low, milliseconds(averageStep), level, x, y)
		for i := len(low) - 1; i >= 0; i-- {
			outline = append(outline, low[i])
		}
		c.FillPolygon(faint(bluishGreen, 0.3), outline)
		c.StrokeLines(draw.LineStyle{Color: bluishGreen, Width: 2}, trace(a.Mean, milliseconds(averageStep), level, x, y))
	}))
	f.Text = fmt.Sprintf("Average of %d cycles: S1 %.0f ms, systole %.0f ms, S2 %.0f ms, diastole %.0f ms, together %.0f ms.", a.Cycles,
		milliseconds(a.Lengths[0]), milliseconds(a.Lengths[1]), milliseconds(a.Lengths[2]), milliseconds(a.Lengths[3]), milliseconds(a.Length()))
	return f
}

// drawStateNames shades the sounds, parts the states by lines and names them.
func (a *Average) drawStateNames(c *draw.Canvas, p *plot.Plot, x func(float64) vg.Length) {
	style := small(p, draw.XCenter, draw.YTop)
	style.Font.Size = 14
	from := 0.0
	for k, state := range pcg.Cycle {
		to := from + milliseconds(a.Lengths[k])
		if state.IsSound() {
			c.FillPolygon(faint(colourOf(state), 0.16), rectangle(x(from), c.Min.Y, x(to), c.Max.Y))
		}
		if k > 0 {
			c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{2, 2}}, x(from), c.Min.Y, x(from), c.Max.Y)
		}
		c.FillText(style, vg.Point{X: x((from + to) / 2), Y: c.Max.Y - 2}, state.String())
		from = to
	}
}

// trace returns the points of evenly spaced values.
func trace(values []float64, step float64, level func(float64) float64, x, y func(float64) vg.Length) []vg.Point {
	points := make([]vg.Point, len(values))
	for i, v := range values {
		points[i] = vg.Point{X: x(float64(i) * step), Y: y(level(v))}
	}
	return points
}
