package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/eval"
)

// DeltaFigure draws how the differences predicted − reference are distributed at
// each place of a sound: a histogram, its median and the quantiles of 5 and 95 %.
func DeltaFigure(s *eval.Summary, d *Details) *Figure {
	const laneHeight = 44
	f := newFigure("deltas", "Predicted minus reference time", narrow, laneHeight*vg.Length(len(placeNames))+44)
	reach := float64(binsAside) * milliseconds(binWidth)
	f.plot.X.Min, f.plot.X.Max = -reach, reach
	f.plot.Y.Min, f.plot.Y.Max = 0, float64(len(placeNames))
	f.plot.X.Label.Text = "predicted - reference, ms"
	ticks := steps(-reach, reach, 40, "%+.0f")
	ticks[len(ticks)/2].Label = "0"
	f.plot.X.Tick.Marker = ticks
	f.plot.Y.LineStyle.Width, f.plot.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var lanes plot.ConstantTicks
	var text strings.Builder
	for i, name := range placeNames {
		if strings.HasSuffix(name, "anchor") {
			name = strings.Replace(name, "anchor", s.Rules.Anchor.String(), 1)
		}
		lanes = append(lanes, plot.Tick{Value: float64(len(placeNames)-i) - 0.75, Label: name})
		if i < len(s.Timing) && s.Timing[i].N > 0 {
			t := &s.Timing[i]
			fmt.Fprintf(&text, "%s: median %s ms, 5 %% %s, 95 %% %s, %d pairs. ", name, signed(t.P50), signed(t.P5), signed(t.P95), t.N)
		}
	}
	f.plot.Y.Tick.Marker = lanes
	f.plot.Add(drawing(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for i := range d.places {
			base := y(float64(len(placeNames) - 1 - i))
			m := markOf(0)
			if strings.HasPrefix(placeNames[i], "S2") {
				m = markOf(1)
			}
			drawHistogram(&c, &d.places[i], m, x, base, laneHeight*0.8)
			if i < len(s.Timing) {
				drawQuantiles(&c, &s.Timing[i], x, base)
			}
		}
	}))
	f.Text = strings.TrimSpace(text.String())
	return f
}

// drawHistogram fills the outline of a histogram that stands on base.
func drawHistogram(c *draw.Canvas, h *histogram, m mark, x func(float64) vg.Length, base, height vg.Length) {
	highest := 0
	for _, n := range h.bins {
		highest = max(highest, n)
	}
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
	c.FillPolygon(faint(m.colour, 0.35), outline)
	c.StrokeLines(draw.LineStyle{Color: m.colour, Width: 0.9, Dashes: m.dash}, outline)
}

// drawQuantiles draws a bar from the 5 % to the 95 % quantile below a histogram,
// and the median as a mark on it.
func drawQuantiles(c *draw.Canvas, s *eval.Spread, x func(float64) vg.Length, base vg.Length) {
	if s.N == 0 {
		return
	}
	y := base + 4
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 1.2}, c.ClipLinesX([]vg.Point{{X: x(float64(s.P5)), Y: y}, {X: x(float64(s.P95)), Y: y}})...)
	at := vg.Point{X: x(float64(s.P50)), Y: y}
	c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: 3, Shape: draw.PyramidGlyph{}}, at)
}

func milliseconds(t time.Duration) float64 { return float64(t) / float64(time.Millisecond) }

// signed prints a difference with its sign and one decimal, or a dash.
func signed(r eval.Ratio) string {
	if r.Null() {
		return "–"
	}
	return strings.Replace(fmt.Sprintf("%+.1f", float64(r)), "-", "\u2212", 1)
}

// pair is a quantity measured from reference and prediction.
type pair struct{ reference, predicted float64 }

// RateFigure draws the agreement of the heart rate.
func RateFigure(s *eval.Summary, d *Details) *Figure {
	var pairs []pair
	for _, r := range d.Recordings {
		if r.Reference.CycleLength > 0 && r.Predicted.CycleLength > 0 {
			pairs = append(pairs, pair{float64(r.Reference.Rate()), float64(r.Predicted.Rate())})
		}
	}
	return agreementFigure("rate-agreement", "Agreement of the heart rate", "beats a minute", s.Rates[0], pairs)
}

// SystoleFigure draws the agreement of the time from S1 to S2.
func SystoleFigure(s *eval.Summary, d *Details) *Figure {
	var pairs []pair
	for _, r := range d.Recordings {
		if r.Reference.CycleLength > 0 && r.Predicted.CycleLength > 0 {
			pairs = append(pairs, pair{milliseconds(r.Reference.Systole), milliseconds(r.Predicted.Systole)})
		}
	}
	return agreementFigure("systole-agreement", "Agreement of the time from S1 to S2", "ms", s.Rates[1], pairs)
}

// agreementFigure draws differences over means with bias and limits of agreement.
func agreementFigure(name, title, unit string, a eval.Agreement, pairs []pair) *Figure {
	f := newFigure(name, title, narrow, 250)
	f.plot.X.Label.Text = "mean of reference and prediction, " + unit
	f.plot.Y.Label.Text = "predicted - reference, " + unit
	reach := 1.0
	f.plot.X.Min, f.plot.X.Max = math.Inf(1), math.Inf(-1)
	for _, p := range pairs {
		mean := (p.reference + p.predicted) / 2
		f.plot.X.Min, f.plot.X.Max = min(f.plot.X.Min, mean), max(f.plot.X.Max, mean)
		reach = max(reach, math.Abs(p.predicted-p.reference))
	}
	if len(pairs) == 0 {
		f.plot.X.Min, f.plot.X.Max = 0, 1
	}
	f.plot.Y.Min, f.plot.Y.Max = -1.1*reach, 1.1*reach
	f.grid(false, true)
	f.plot.Add(drawing(func(c draw.Canvas, p *plot.Plot) {
		drawPairs(&c, p, pairs)
		for _, line := range []struct {
			at    eval.Ratio
			name  string
			style draw.LineStyle
			above bool
		}{
			{a.Upper, "+1.96 SD:", draw.LineStyle{Color: vermillion, Width: 1.2, Dashes: []vg.Length{5, 3}}, true},
			{a.Bias, "bias:", draw.LineStyle{Color: vermillion, Width: 1.4}, true},
			{a.Lower, "-1.96 SD:", draw.LineStyle{Color: vermillion, Width: 1.2, Dashes: []vg.Length{5, 3}}, false},
		} {
			if line.at.Null() {
				continue
			}
			_, y := p.Transforms(&c)
			at := y(float64(line.at))
			c.StrokeLine2(line.style, c.Min.X, at, c.Max.X, at)
			align, away := draw.YBottom, vg.Length(1)
			if !line.above {
				align, away = draw.YTop, -1
			}
			c.FillText(small(p, draw.XRight, align), vg.Point{X: c.Max.X, Y: at + away}, fmt.Sprintf("%s %+.1f", line.name, float64(line.at)))
		}
	}))
	f.Text = fmt.Sprintf("%d recordings of %d people. Bias %s %s, 95 %% limits of agreement %s to %s. The points lie at most %.1f %s from no difference.",
		a.Recordings, a.People, signed(a.Bias), unit, signed(a.Lower), signed(a.Upper), reach, unit)
	return f
}

// drawPairs draws a ring for each pair, and one for those that would hide each
// other, so that the size of a page does not grow with that of the data set.
func drawPairs(c *draw.Canvas, p *plot.Plot, pairs []pair) {
	const near = 1.5 // points
	x, y := p.Transforms(c)
	type cell struct{ i, j int }
	drawn := make(map[cell]bool)
	style := draw.GlyphStyle{Color: faint(blue, 0.85), Radius: 2, Shape: draw.RingGlyph{}}
	for _, v := range pairs {
		at := vg.Point{X: x((v.reference + v.predicted) / 2), Y: y(v.predicted - v.reference)}
		k := cell{int(at.X / near), int(at.Y / near)}
		if !drawn[k] {
			drawn[k] = true
			c.DrawGlyph(style, at)
		}
	}
}
