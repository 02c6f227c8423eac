package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"

	"phonocycle/eval"
)

// curve is one line of the figure of scores against tolerance.
type curve struct {
	name string
	rows []eval.Score
}

// curveOf returns the pooled scores of a class at the headline anchor.
func curveOf(name string, s *eval.Summary, class eval.Class) curve {
	rows := s.Scores.Sweep(class, s.Rules.Anchor)
	return curve{name, slices.DeleteFunc(rows, func(r eval.Score) bool { return r.F1.Null() })}
}

// toleranceFigure draws F1 against the tolerance: of one run for S1, S2 and both
// sounds, of several runs for the class of the headline.
func toleranceFigure(runs []Run) *figure {
	f := newFigure("tolerance", "F1 against tolerance", narrow, 250)
	var curves []curve
	if len(runs) == 1 {
		for _, class := range []eval.Class{eval.Both, eval.S1, eval.S2} {
			if c := curveOf(class.String(), runs[0].Summary, class); len(c.rows) > 0 {
				curves = append(curves, c)
			}
		}
	} else {
		for _, r := range runs {
			curves = append(curves, curveOf(r.Name, r.Summary, r.Summary.Rules.HeadlineClass()))
		}
	}
	rules := &runs[0].Summary.Rules
	f.plot.X.Label.Text = "tolerance, ms before and after the " + rules.Anchor.String()
	f.plot.Y.Label.Text = "F1, %"
	f.grid(false, true)
	var b strings.Builder
	low := 100.0
	for i, c := range curves {
		if i == 0 || len(runs) > 1 {
			f.band(c.rows, styleOf(i))
		}
		f.curve(c, styleOf(i))
		fmt.Fprintf(&b, "%s:", c.name)
		for _, r := range c.rows {
			low = min(low, 100*float64(r.F1))
			fmt.Fprintf(&b, " %s %% at %g ms%s;", r.F1.Percent(), r.ToleranceMS, inParentheses(r.Low, r.High))
		}
		b.WriteString(" ")
	}
	f.plot.Legend.Left = false
	f.plot.X.Min, f.plot.Y.Min, f.plot.Y.Max = 0, max(math.Floor(low/10)*10-20, 0), 100
	f.plot.X.Tick.Marker = toleranceTicks(rules.TolerancesMS)
	f.plot.Y.Tick.Marker = ticksEvery(f.plot.Y.Min, 100, 10, "%.0f")
	f.text = strings.TrimSpace(b.String()) + fmt.Sprintf(" The band is the 95 %% interval; the headline tolerance is %g ms.", rules.HeadlineMS)
	return f
}

// toleranceTicks labels those of a sweep that stand far enough apart.
func toleranceTicks(ms []float64) plot.ConstantTicks {
	var ticks plot.ConstantTicks
	last := math.Inf(-1)
	for _, v := range ms {
		label := ""
		if v-last >= 10 {
			label, last = fmt.Sprintf("%g", v), v
		}
		ticks = append(ticks, plot.Tick{Value: v, Label: label})
	}
	return ticks
}

// curve adds a line with symbols and a legend entry.
func (f *figure) curve(c curve, m seriesStyle) {
	points := make(plotter.XYs, len(c.rows))
	for i, r := range c.rows {
		points[i] = plotter.XY{X: r.ToleranceMS, Y: 100 * float64(r.F1)}
	}
	if len(points) == 0 {
		return
	}
	line := &plotter.Line{XYs: points, LineStyle: m.line(1.6)}
	dots := &plotter.Scatter{XYs: points, GlyphStyle: m.glyph(2.8)}
	f.plot.Add(line, dots)
	f.plot.Legend.Add(c.name, line, dots)
}

// band adds the confidence intervals of rows as an area.
func (f *figure) band(rows []eval.Score, m seriesStyle) {
	var upper, lower plotter.XYs
	for _, r := range rows {
		if !r.Low.Null() && !r.High.Null() {
			upper = append(upper, plotter.XY{X: r.ToleranceMS, Y: 100 * float64(r.High)})
			lower = append(plotter.XYs{{X: r.ToleranceMS, Y: 100 * float64(r.Low)}}, lower...)
		}
	}
	if len(upper) > 0 {
		f.plot.Add(&plotter.Polygon{XYs: []plotter.XYs{append(upper, lower...)}, Color: translucent(m.colour, 0.18)})
	}
}
