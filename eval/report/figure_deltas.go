package report

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/eval"
)

// deltaFigure draws the distribution of predicted − reference time for onset,
// offset and anchor of each sound: histogram, median, 5 % and 95 % quantile.
func deltaFigure(s *eval.Summary, d *Details) *figure {
	const rowHeight = 44
	f := newFigure("deltas", "Predicted minus reference time", narrow, rowHeight*vg.Length(len(placeNames))+44)
	limit := float64(binsAside) * milliseconds(binWidth)
	f.plot.X.Min, f.plot.X.Max = -limit, limit
	f.plot.Y.Min, f.plot.Y.Max = 0, float64(len(placeNames))
	f.plot.X.Label.Text = "predicted - reference, ms"
	ticks := ticksEvery(-limit, limit, 40, "%+.0f")
	ticks[len(ticks)/2].Label = "0"
	f.plot.X.Tick.Marker = ticks
	f.plot.Y.LineStyle.Width, f.plot.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var labels plot.ConstantTicks
	var text strings.Builder
	for i, name := range placeNames {
		if strings.HasSuffix(name, "anchor") {
			name = strings.Replace(name, "anchor", s.Rules.Anchor.String(), 1)
		}
		labels = append(labels, plot.Tick{Value: float64(len(placeNames)-i) - 0.75, Label: name})
		if i < len(s.Timing) && s.Timing[i].N > 0 {
			t := &s.Timing[i]
			fmt.Fprintf(&text, "%s: median %s ms, 5 %% %s, 95 %% %s, %d pairs. ", name, signed(t.P50), signed(t.P5), signed(t.P95), t.N)
		}
	}
	f.plot.Y.Tick.Marker = labels
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for i := range d.places {
			base := y(float64(len(placeNames) - 1 - i))
			style := styleOf(0)
			if strings.HasPrefix(placeNames[i], "S2") {
				style = styleOf(1)
			}
			drawHistogram(&c, &d.places[i], style, x, base, rowHeight*0.8)
			if i < len(s.Timing) {
				drawQuantiles(&c, &s.Timing[i], x, base)
			}
		}
	}))
	f.text = strings.TrimSpace(text.String())
	return f
}

// drawHistogram draws a histogram with its bars on base, scaled to its highest
// bar.
func drawHistogram(c *draw.Canvas, h *histogram, s seriesStyle, x func(float64) vg.Length, base, height vg.Length) {
	highest := slices.Max(h.bins[:])
	c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.5}, c.Min.X, base, c.Max.X, base)
	if highest == 0 {
		return
	}
	width := milliseconds(binWidth)
	outline := []vg.Point{{X: x(-width * (binsAside + 0.5)), Y: base}}
	for i, n := range h.bins {
		left := (float64(i-binsAside) - 0.5) * width
		y := base + height*vg.Length(n)/vg.Length(highest)
		outline = append(outline, vg.Point{X: x(left), Y: y}, vg.Point{X: x(left + width), Y: y})
	}
	outline = append(outline, vg.Point{X: outline[len(outline)-1].X, Y: base})
	outline = c.ClipPolygonX(outline)
	c.FillPolygon(translucent(s.colour, 0.35), outline)
	c.StrokeLines(draw.LineStyle{Color: s.colour, Width: 0.9, Dashes: s.dash}, outline)
}

// drawQuantiles draws a bar from the 5 % to the 95 % quantile on the base of a
// histogram, with a symbol at the median.
func drawQuantiles(c *draw.Canvas, s *eval.Spread, x func(float64) vg.Length, base vg.Length) {
	if s.N == 0 {
		return
	}
	y := base + 4
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 1.2}, c.ClipLinesX([]vg.Point{{X: x(float64(s.P5)), Y: y}, {X: x(float64(s.P95)), Y: y}})...)
	at := vg.Point{X: x(float64(s.P50)), Y: y}
	c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: 3, Shape: draw.PyramidGlyph{}}, at)
}
