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

// pair holds a quantity measured from the reference and from the prediction.
type pair struct{ reference, predicted float64 }

// agreementFigures draws the agreement of the heart rate and, where S2 is scored, of
// the time from S1 to S2.
func agreementFigures(s *eval.Summary, d *Details) []*figure {
	var rates, systoles []pair
	for _, r := range d.Recordings {
		if r.Reference.CycleLength > 0 && r.Predicted.CycleLength > 0 {
			rates = append(rates, pair{float64(r.Reference.Rate()), float64(r.Predicted.Rate())})
			systoles = append(systoles, pair{milliseconds(r.Reference.Systole), milliseconds(r.Predicted.Systole)})
		}
	}
	list := []*figure{agreementFigure("rate-agreement", "Agreement of the heart rate", "beats/min", s.Rates[0], rates)}
	if len(s.Rates) > 1 {
		list = append(list, agreementFigure("systole-agreement", "Agreement of the time from S1 to S2", "ms", s.Rates[1], systoles))
	}
	return list
}

// agreementFigure draws the difference over the mean of each pair, the bias and
// the 95 % limits of agreement.
func agreementFigure(name, title, unit string, a eval.Agreement, pairs []pair) *figure {
	f := newFigure(name, title, narrow, 250)
	f.plot.X.Label.Text = "mean of reference and prediction, " + unit
	f.plot.Y.Label.Text = "predicted - reference, " + unit
	largest := 0.0
	f.plot.X.Min, f.plot.X.Max = math.Inf(1), math.Inf(-1)
	for _, p := range pairs {
		mean := (p.reference + p.predicted) / 2
		f.plot.X.Min, f.plot.X.Max = min(f.plot.X.Min, mean), max(f.plot.X.Max, mean)
		largest = max(largest, math.Abs(p.predicted-p.reference))
	}
	if len(pairs) == 0 {
		f.plot.X.Min, f.plot.X.Max = 0, 1
	}
	margin := 0.03 * (f.plot.X.Max - f.plot.X.Min) // so that no symbol is cut
	f.plot.X.Min, f.plot.X.Max = f.plot.X.Min-margin, f.plot.X.Max+margin
	height := max(1, largest)
	for _, limit := range []eval.Ratio{a.Lower, a.Upper} {
		if !limit.Null() {
			height = max(height, math.Abs(float64(limit)))
		}
	}
	f.plot.Y.Min, f.plot.Y.Max = -1.2*height, 1.2*height // with room for the labels of the limits
	f.grid(false, true)
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
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
			c.FillText(smallText(p, draw.XRight, align), vg.Point{X: c.Max.X, Y: at + away}, line.name+" "+strings.Replace(signed(line.at), "\u2212", "-", 1))
		}
	}))
	f.text = fmt.Sprintf("%d recordings of %d people. Bias %s %s, 95 %% limits of agreement %s to %s. Largest absolute difference: %.1f %s.",
		a.Recordings, a.People, signed(a.Bias), unit, signed(a.Lower), signed(a.Upper), largest, unit)
	return f
}

// drawPairs draws a ring for each pair. Rings that would cover each other are
// drawn once, so that the size of a page is bounded.
func drawPairs(c *draw.Canvas, p *plot.Plot, pairs []pair) {
	const near = 1.5 // points
	x, y := p.Transforms(c)
	type cell struct{ i, j int }
	drawn := make(map[cell]bool)
	style := draw.GlyphStyle{Color: translucent(blue, 0.85), Radius: 2, Shape: draw.RingGlyph{}}
	for _, v := range pairs {
		at := vg.Point{X: x((v.reference + v.predicted) / 2), Y: y(v.predicted - v.reference)}
		k := cell{int(at.X / near), int(at.Y / near)}
		if !drawn[k] {
			drawn[k] = true
			c.DrawGlyph(style, at)
		}
	}
}
