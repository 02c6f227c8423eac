package report

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/eval"
)

// sweep returns the pooled rows of a class at the anchor of the headline, by
// rising tolerance.
func sweep(s *eval.Summary, class eval.Class) []eval.Score {
	var rows []eval.Score
	for _, ms := range s.Rules.TolerancesMS {
		for _, r := range s.Scores {
			if r.Class == class && r.Anchor == s.Rules.Anchor && r.Aggregate == eval.Pooled && r.Stratum == "" && r.ToleranceMS == ms && !r.F1.Null() {
				rows = append(rows, r)
				break
			}
		}
	}
	return rows
}

// curve is one line of the figure of scores against tolerance.
type curve struct {
	name string
	rows []eval.Score
}

// ToleranceFigure draws F1 against the tolerance: of one run for S1, S2 and both
// together, of several runs for both together.
func ToleranceFigure(runs []Run) *Figure {
	f := newFigure("tolerance", "F1 against tolerance", narrow, 250)
	var curves []curve
	if len(runs) == 1 {
		for _, class := range []eval.Class{eval.Both, eval.S1, eval.S2} {
			curves = append(curves, curve{className(class), sweep(runs[0].Summary, class)})
		}
	} else {
		for _, r := range runs {
			curves = append(curves, curve{r.Name, sweep(r.Summary, eval.Both)})
		}
	}
	rules := &runs[0].Summary.Rules
	f.plot.X.Label.Text = "tolerance, ms either side of the " + rules.Anchor.String()
	f.plot.Y.Label.Text = "F1, %"
	f.grid(false, true)
	var b strings.Builder
	low := 100.0
	for i, c := range curves {
		if i == 0 || len(runs) > 1 {
			f.band(c.rows, markOf(i))
		}
		f.curve(c, markOf(i))
		fmt.Fprintf(&b, "%s:", c.name)
		for _, r := range c.rows {
			low = min(low, 100*float64(r.F1))
			fmt.Fprintf(&b, " %s %% at %g ms%s;", r.F1.Percent(), r.ToleranceMS, between(r.Low, r.High))
		}
		b.WriteString(" ")
	}
	f.plot.Legend.Left = false
	f.plot.X.Min, f.plot.Y.Min, f.plot.Y.Max = 0, max(math.Floor(low/10)*10-20, 0), 100
	f.plot.X.Tick.Marker = tolerances(rules.TolerancesMS)
	f.plot.Y.Tick.Marker = steps(f.plot.Y.Min, 100, 10, "%.0f")
	f.Text = strings.TrimSpace(b.String()) + fmt.Sprintf(" The band is the 95 %% interval; the headline is at %g ms.", rules.HeadlineMS)
	return f
}

// tolerances labels those of a sweep that stand far enough apart.
func tolerances(ms []float64) plot.ConstantTicks {
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

// between prints an interval in words, or nothing.
func between(low, high eval.Ratio) string {
	if low.Null() || high.Null() {
		return ""
	}
	return fmt.Sprintf(" (%s to %s)", low.Percent(), high.Percent())
}

// curve adds a line with its points and legend.
func (f *Figure) curve(c curve, m mark) {
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

// band adds the intervals of rows as an area.
func (f *Figure) band(rows []eval.Score, m mark) {
	var upper, lower plotter.XYs
	for _, r := range rows {
		if !r.Low.Null() && !r.High.Null() {
			upper = append(upper, plotter.XY{X: r.ToleranceMS, Y: 100 * float64(r.High)})
			lower = append(plotter.XYs{{X: r.ToleranceMS, Y: 100 * float64(r.Low)}}, lower...)
		}
	}
	if len(upper) > 0 {
		f.plot.Add(&plotter.Polygon{XYs: []plotter.XYs{append(upper, lower...)}, Color: faint(m.colour, 0.18)})
	}
}

// className is a class as a reader sees it.
func className(c eval.Class) string {
	if c == eval.Both {
		return "both sounds"
	}
	return c.String()
}

// aggregateName is an aggregate as a reader sees it.
func aggregateName(a eval.Aggregate) string {
	return [...]string{"pooled over events", "mean over recordings", "mean over people"}[a]
}

// A row of an interval plot. A heading has no values.
type intervalRow struct {
	label               string
	heading             bool
	estimate, low, high eval.Ratio
	mark                mark
}

// intervalFigure draws estimates with their intervals below one another, in
// percent.
func intervalFigure(name, title string, rows []intervalRow) *Figure {
	const rowHeight = 15
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
	f.plot.X.Tick.Marker = steps(f.plot.X.Min, 100, step, "%.0f")
	f.plot.X.Label.Text = "F1, %"
	f.plot.Y.LineStyle.Width, f.plot.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var ticks plot.ConstantTicks
	for i, r := range rows {
		ticks = append(ticks, plot.Tick{Value: -float64(i), Label: shorten(r.label, 28)})
	}
	f.plot.Y.Tick.Marker = ticks
	f.plot.Add(drawing(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for i, r := range rows {
			if r.heading {
				c.StrokeLine2(draw.LineStyle{Color: rule, Width: 0.8}, c.Min.X, y(-float64(i)-0.5), c.Max.X, y(-float64(i)-0.5))
				continue
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
		line := draw.LineStyle{Color: r.mark.colour, Width: 1.4}
		c.StrokeLine2(line, a, y, b, y)
		c.StrokeLine2(line, a, y-3, a, y+3)
		c.StrokeLine2(line, b, y-3, b, y+3)
	}
	if !r.estimate.Null() {
		c.DrawGlyphNoClip(r.mark.glyph(3.2), vg.Point{X: x(100 * float64(r.estimate)), Y: y})
	}
}

// shorten cuts text to the given number of letters.
func shorten(text string, most int) string {
	letters := []rune(text)
	if len(letters) <= most {
		return text
	}
	return string(letters[:most-1]) + "…"
}

// Stratum is a stratum as a page shows it.
type Stratum struct {
	Label, Value string
	eval.Score   // both sounds, pooled
}

// strataOf lists the strata of a summary in its order.
func strataOf(s *eval.Summary) []Stratum {
	var list []Stratum
	for _, r := range s.Scores {
		if r.Stratum != "" && r.Class == eval.Both && r.Aggregate == eval.Pooled {
			label, value, _ := strings.Cut(r.Stratum, "=")
			list = append(list, Stratum{strings.ReplaceAll(label, "_", " "), value, r})
		}
	}
	return list
}

// StrataFigure draws F1 of both sounds, pooled, for each stratum with enough
// people. It returns nil where there is none.
func StrataFigure(s *eval.Summary) *Figure {
	all := s.HeadlineRow
	rows := []intervalRow{{label: fmt.Sprintf("all recordings (%d)", all.People), estimate: all.F1, low: all.Low, high: all.High, mark: markOf(1)}}
	var text strings.Builder
	fmt.Fprintf(&text, "All: %s %%%s.", all.F1.Percent(), between(all.Low, all.High))
	last := ""
	for _, stratum := range strataOf(s) {
		if stratum.F1.Null() {
			continue
		}
		if stratum.Label != last {
			rows = append(rows, intervalRow{label: stratum.Label + ":", heading: true})
			last = stratum.Label
		}
		rows = append(rows, intervalRow{label: fmt.Sprintf("%s (%d)", shorten(stratum.Value, 21), stratum.People), estimate: stratum.F1, low: stratum.Low, high: stratum.High, mark: markOf(0)})
		fmt.Fprintf(&text, " %s %s: %s %%%s, %d people.", stratum.Label, stratum.Value, stratum.F1.Percent(), between(stratum.Low, stratum.High), stratum.People)
	}
	if len(rows) == 1 {
		return nil
	}
	f := intervalFigure("strata", "F1 by stratum", rows)
	f.Text = text.String()
	return f
}

// MethodsFigure draws the three aggregates of F1 of both sounds for each run.
func MethodsFigure(runs []Run) *Figure {
	var rows []intervalRow
	var text strings.Builder
	for i, run := range runs {
		rows = append(rows, intervalRow{label: run.Name + ":", heading: true})
		fmt.Fprintf(&text, "%s:", run.Name)
		for _, r := range headlineRows(run.Summary) {
			if r.Class != eval.Both {
				continue
			}
			rows = append(rows, intervalRow{label: aggregateName(r.Aggregate), estimate: r.F1, low: r.Low, high: r.High, mark: markOf(i)})
			fmt.Fprintf(&text, " %s %s %%%s;", aggregateName(r.Aggregate), r.F1.Percent(), between(r.Low, r.High))
		}
		text.WriteString(" ")
	}
	f := intervalFigure("methods", "F1 of the runs", rows)
	f.Text = strings.TrimSpace(text.String())
	return f
}

// headlineRows returns the rows over all recordings at the headline.
func headlineRows(s *eval.Summary) []eval.Score {
	var rows []eval.Score
	for _, r := range s.Scores {
		if r.Stratum == "" && r.Intervals != nil {
			rows = append(rows, r)
		}
	}
	return rows
}
