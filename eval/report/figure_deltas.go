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

// deltaRow is the distribution at one place.
type deltaRow struct {
	name      string
	second    bool // of S2
	spread    *eval.Spread
	histogram *histogram
}

// deltaRows returns the places that the timing of a run has.
func deltaRows(s *eval.Summary, d *Details) []deltaRow {
	var rows []deltaRow
	for i, name := range placeNames {
		place := name
		if sound, ok := strings.CutSuffix(name, " anchor"); ok {
			name = sound + " " + s.Rules.Anchor.String()
			place = sound + " anchor (" + s.Rules.Anchor.String() + ")"
		}
		if spread := s.Timing.Place(place); spread != nil {
			rows = append(rows, deltaRow{name, strings.HasPrefix(name, "S2"), spread, &d.places[i]})
		}
	}
	return rows
}

// deltaFigure draws the distribution of predicted − reference time for onset,
// offset and anchor of each sound: histogram, median, 5 % and 95 % quantile.
func deltaFigure(s *eval.Summary, d *Details) *figure {
	const rowHeight = 44
	rows := deltaRows(s, d)
	f := newFigure("deltas", "Predicted minus reference time", narrow, rowHeight*vg.Length(len(rows))+44)
	limit := float64(binsAside) * milliseconds(binWidth)
	f.plot.X.Min, f.plot.X.Max = -limit, limit
	f.plot.Y.Min, f.plot.Y.Max = 0, float64(len(rows))
	f.plot.X.Label.Text = "predicted - reference, ms"
	ticks := ticksEvery(-limit, limit, 40, "%+.0f")
	ticks[len(ticks)/2].Label = "0"
	f.plot.X.Tick.Marker = ticks
	f.plot.Y.LineStyle.Width, f.plot.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var labels plot.ConstantTicks
	var text strings.Builder
	for i, r := range rows {
		labels = append(labels, plot.Tick{Value: float64(len(rows)-i) - 0.75, Label: r.name})
		if t := r.spread; t.N > 0 {
			fmt.Fprintf(&text, "%s: median %s ms, 5 %% %s, 95 %% %s, %d pairs. ", r.name, signed(t.P50), signed(t.P5), signed(t.P95), t.N)
		}
	}
	f.plot.Y.Tick.Marker = labels
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for i, r := range rows {
			base := y(float64(len(rows) - 1 - i))
			style := styleOf(0)
			if r.second {
				style = styleOf(1)
			}
			drawHistogram(&c, r.histogram, style, x, base, rowHeight*0.8)
			drawQuantiles(&c, r.spread, x, base)
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
