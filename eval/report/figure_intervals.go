package report

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/eval"
)

// intervalRow is a row of an interval figure.
type intervalRow struct {
	label               string
	heading             bool // without values, with a line below it
	first               bool // with a line above it
	estimate, low, high eval.Ratio
	style               seriesStyle
}

// intervalFigure draws estimates with their intervals in percent, one row each.
func intervalFigure(name, title string, rows []intervalRow) *figure {
	const rowHeight = 13
	f := newFigure(name, title, narrow, vg.Length(rowHeight*len(rows)+46))
	low := 1.0
	for _, r := range rows {
		for _, v := range []eval.Ratio{r.estimate, r.low} {
			if !r.heading && !v.Null() {
				low = min(low, float64(v))
			}
		}
	}
	f.plot.X.Min, f.plot.X.Max = max(math.Floor(10*low)*10, 0), 100
	f.plot.Y.Min, f.plot.Y.Max = -float64(len(rows))+0.5, 0.5
	step := 10.0
	if f.plot.X.Max-f.plot.X.Min > 50 {
		step = 20
	}
	f.plot.X.Min = math.Floor(f.plot.X.Min/step) * step
	f.plot.X.Tick.Marker = ticksEvery(f.plot.X.Min, 100, step, "%.0f")
	f.plot.X.Label.Text = "F1, %"
	f.plot.Y.LineStyle.Width, f.plot.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var ticks plot.ConstantTicks
	for i, r := range rows {
		ticks = append(ticks, plot.Tick{Value: -float64(i), Label: shorten(r.label, 28)})
	}
	f.plot.Y.Tick.Marker = ticks
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for i, r := range rows {
			line := func(at float64) {
				c.StrokeLine2(draw.LineStyle{Color: gridColour, Width: 0.8}, c.Min.X, y(at), c.Max.X, y(at))
			}
			if r.heading {
				line(-float64(i) - 0.5)
				continue
			}
			if r.first {
				line(-float64(i) + 0.5)
			}
			drawInterval(&c, r, x, y(-float64(i)))
		}
	}))
	return f
}

// drawInterval draws one estimate with its interval.
func drawInterval(c *draw.Canvas, r intervalRow, x func(float64) vg.Length, y vg.Length) {
	if !r.low.Null() && !r.high.Null() {
		a, b := x(100*float64(r.low)), x(100*float64(r.high))
		line := draw.LineStyle{Color: r.style.colour, Width: 1.4}
		c.StrokeLine2(line, a, y, b, y)
		c.StrokeLine2(line, a, y-3, a, y+3)
		c.StrokeLine2(line, b, y-3, b, y+3)
	}
	if !r.estimate.Null() {
		c.DrawGlyphNoClip(r.style.glyph(3.2), vg.Point{X: x(100 * float64(r.estimate)), Y: y})
	}
}

// runsFigure draws the three aggregates of F1 of the headline for each run.
func runsFigure(runs []Run) *figure {
	var rows []intervalRow
	var text strings.Builder
	for i, run := range runs {
		rows = append(rows, intervalRow{label: run.Name + ":", heading: true})
		fmt.Fprintf(&text, "%s:", run.Name)
		for _, r := range run.Summary.Scores.Headline(&run.Summary.Rules, "") {
			if r.Class != run.Summary.Rules.HeadlineClass() {
				continue
			}
			rows = append(rows, intervalRow{label: r.Aggregate.Label(), estimate: r.F1, low: r.Low, high: r.High, style: styleOf(i)})
			fmt.Fprintf(&text, " %s %s %%%s;", r.Aggregate.Label(), r.F1.Percent(), inParentheses(r.Low, r.High))
		}
		text.WriteString(" ")
	}
	f := intervalFigure("methods", "F1 of each run", rows)
	f.text = strings.TrimSpace(text.String())
	return f
}
