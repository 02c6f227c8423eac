package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/eval"
)

// labelShare is the part of the width of a figure that the names beside its points
// take.
const labelShare = 0.34

// studyPoint is a score in a figure of a study.
type studyPoint struct {
	x     float64
	score *eval.Score
}

// studySeries is the scores of a method, by x.
type studySeries struct {
	method string
	style  seriesStyle
	points []studyPoint
}

// noiseFigure draws F1 of each method of a column against the signal-to-noise ratio of
// one kind of noise, with bands. The audio as it is stands at the right, apart from the
// scale. It is nil where no method has two points.
func noiseFigure(s *eval.Study, column, id string, noise eval.NoiseSeries) *figure {
	f := newFigure("noise-"+id, fmt.Sprintf("F1 against %s in %s", noise.Noise, column), narrow, 270)
	first, last := noise.Levels[0].SNR, noise.Levels[len(noise.Levels)-1].SNR
	clean := last + max((last-first)/float64(len(noise.Levels)), 1)
	ticks := plot.ConstantTicks{{Value: clean, Label: "as it is"}}
	for _, level := range noise.Levels {
		ticks = append(ticks, plot.Tick{Value: level.SNR, Label: fmt.Sprintf("%g", level.SNR)})
	}
	var all []studySeries
	noisy := false
	for i, method := range s.Header.Methods {
		series := studySeries{method: method, style: styleOf(i)}
		add := func(x float64, condition string) {
			if c := s.Cell(column, method, condition); c != nil && !c.Score().F1.Null() {
				series.points = append(series.points, studyPoint{x, c.Score()})
			}
		}
		for _, level := range noise.Levels {
			add(level.SNR, level.Condition)
		}
		add(clean, "")
		if len(series.points) > 0 {
			all = append(all, series)
		}
		noisy = noisy || len(series.points) > 1
	}
	if !noisy {
		return nil
	}
	f.plot.X.Label.Text = "signal-to-noise ratio, dB"
	f.plot.X.Min, f.plot.X.Max = first, clean+(clean-first)*labelShare/(1-labelShare)
	f.plot.X.Tick.Marker = ticks
	f.percentAxis(all, clean)
	for _, series := range all {
		f.studyBand(series)
	}
	for _, series := range all {
		f.studyCurve(series)
	}
	f.names(all, clean)
	f.text = studyText(all, func(x float64) string {
		if x == clean {
			return "as it is"
		}
		return fmt.Sprintf("at %g dB", x)
	}) + " Bands are 95 % intervals over people."
	return f
}

// costFigure draws F1 of each method of a column on the audio as it is against what
// segmenting costs. It is nil where no cost is known.
func costFigure(s *eval.Study, column, id string) *figure {
	f := newFigure("cost-"+id, "F1 against cost in "+column, narrow, 250)
	var all []studySeries
	var costs []float64
	for i, method := range s.Header.Methods {
		c := s.Cell(column, method, "")
		if c == nil || c.Cost.Null() || c.Score().F1.Null() {
			continue
		}
		costs = append(costs, float64(c.Cost))
		all = append(all, studySeries{method, styleOf(i), []studyPoint{{float64(c.Cost), c.Score()}}})
	}
	if len(all) == 0 {
		return nil
	}
	f.plot.X.Label.Text = "processor seconds per hour of audio"
	high := costAxis(&f.plot.X, costs)
	f.percentAxis(all, high)
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		for _, series := range all {
			at := series.points[0]
			if !at.score.Low.Null() && !at.score.High.Null() {
				c.StrokeLine2(draw.LineStyle{Color: series.style.colour, Width: 1.2}, x(at.x), y(100*float64(at.score.Low)), x(at.x), y(100*float64(at.score.High)))
			}
			c.DrawGlyphNoClip(series.style.glyph(3.4), vg.Point{X: x(at.x), Y: y(100 * float64(at.score.F1))})
		}
	}))
	f.names(all, high)
	f.text = studyText(all, func(x float64) string { return fmt.Sprintf("at %.3g s per hour", x) })
	return f
}

// costAxis scales an axis of costs, with logarithms where they differ much, and leaves
// room for names. It returns the end of the part that has ticks.
func costAxis(axis *plot.Axis, costs []float64) (high float64) {
	const farApart = 12
	low, high := slices.Min(costs), slices.Max(costs)
	if high/low < farApart {
		step := niceStep(high)
		high = math.Ceil(high/step) * step
		axis.Min, axis.Max, axis.Tick.Marker = 0, high/(1-labelShare), ticksEvery(0, high, step, "%.3g")
		return high
	}
	low, high = math.Pow(10, math.Floor(math.Log10(low))), math.Pow(10, math.Ceil(math.Log10(high)))
	var ticks plot.ConstantTicks
	for v := low; v <= high*1.001; v *= 10 {
		ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprintf("%.6g", v)})
	}
	axis.Scale, axis.Min, axis.Max, axis.Tick.Marker = plot.LogScale{}, low, low*math.Pow(high/low, 1/(1-labelShare)), ticks
	return high
}

// niceStep returns a step of 1, 2 or 5 times a power of ten that divides a length into
// five parts at most.
func niceStep(length float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(length/5)))
	for _, k := range []float64{1, 2, 5} {
		if length/(k*power) <= 5 {
			return k * power
		}
	}
	return 10 * power
}

// conditionFigure draws F1 of each method of a column under the conditions that are no
// level of noise. It is nil where there is none.
func conditionFigure(s *eval.Study, column, id string, conditions []string) *figure {
	var rows []intervalRow
	var text strings.Builder
	for _, condition := range conditions {
		heading := false
		for i, method := range s.Header.Methods {
			c := s.Cell(column, method, condition)
			if c == nil {
				continue
			}
			if !heading {
				heading = true
				rows = append(rows, intervalRow{label: cmp.Or(condition, "as it is") + ":", heading: true})
				fmt.Fprintf(&text, "%s: ", cmp.Or(condition, "as it is"))
			}
			r := c.Score()
			rows = append(rows, intervalRow{label: method, estimate: r.F1, low: r.Low, high: r.High, style: styleOf(i)})
			fmt.Fprintf(&text, "%s %s %%%s; ", method, r.F1.Percent(), inParentheses(r.Low, r.High))
		}
	}
	if len(rows) == 0 {
		return nil
	}
	f := intervalFigure("conditions-"+id, "F1 under other conditions in "+column, rows)
	f.text = strings.TrimSpace(text.String())
	return f
}

// percentAxis sets the y axis to F1 in percent, so that all points and bands are in it,
// with grid lines up to x.
func (f *figure) percentAxis(all []studySeries, x float64) {
	low := 1.0
	for _, series := range all {
		for _, p := range series.points {
			low = min(low, float64(p.score.F1))
			if !p.score.Low.Null() {
				low = min(low, float64(p.score.Low))
			}
		}
	}
	f.plot.Y.Label.Text = "F1, %"
	f.plot.Y.Min, f.plot.Y.Max = min(math.Floor(10*low)*10, 90), 100
	step := 10.0
	if f.plot.Y.Min < 40 {
		step = 20
	}
	f.plot.Y.Min = math.Floor(f.plot.Y.Min/step) * step
	ticks := ticksEvery(f.plot.Y.Min, 100, step, "%.0f")
	f.plot.Y.Tick.Marker = ticks
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		atX, atY := p.Transforms(&c)
		for _, t := range ticks {
			c.StrokeLine2(draw.LineStyle{Color: gridColour, Width: 0.6}, c.Min.X, atY(t.Value), atX(x), atY(t.Value))
		}
	}))
}

// studyBand adds the intervals of a series as an area.
func (f *figure) studyBand(s studySeries) {
	var upper, lower plotter.XYs
	for _, p := range s.points {
		if !p.score.Low.Null() && !p.score.High.Null() {
			upper = append(upper, plotter.XY{X: p.x, Y: 100 * float64(p.score.High)})
			lower = append(lower, plotter.XY{X: p.x, Y: 100 * float64(p.score.Low)})
		}
	}
	slices.Reverse(lower)
	if len(upper) > 1 {
		f.plot.Add(&plotter.Polygon{XYs: []plotter.XYs{append(upper, lower...)}, Color: translucent(s.style.colour, 0.12)})
	}
}

// studyCurve adds the points of a series and the line through them.
func (f *figure) studyCurve(s studySeries) {
	var points plotter.XYs
	for _, p := range s.points {
		points = append(points, plotter.XY{X: p.x, Y: 100 * float64(p.score.F1)})
	}
	f.plot.Add(&plotter.Line{XYs: points, LineStyle: s.style.line(1.4)}, &plotter.Scatter{XYs: points, GlyphStyle: s.style.glyph(2.8)})
}

// names writes the name of each series, with its symbol, to the right of x, as near to
// the height of its last point as the others allow.
func (f *figure) names(all []studySeries, x float64) {
	const lineHeight = 12
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		atX, atY := p.Transforms(&c)
		var wanted []float64
		for _, s := range all {
			wanted = append(wanted, atY(100*float64(s.points[len(s.points)-1].score.F1)).Points())
		}
		left := atX(x) + 10
		for i, y := range spread(wanted, lineHeight, c.Min.Y.Points(), c.Max.Y.Points()) {
			at := vg.Point{X: left, Y: vg.Length(y)}
			c.StrokeLine2(all[i].style.line(1.4), left-5, at.Y, left+9, at.Y)
			c.DrawGlyphNoClip(all[i].style.glyph(2.8), vg.Point{X: left + 2, Y: at.Y})
			c.FillText(smallText(p, draw.XLeft, draw.YCenter), vg.Point{X: left + 12, Y: at.Y}, shorten(all[i].method, 17))
		}
	}))
}

// spread moves heights apart so that neighbours have at least a distance, as little as
// that needs, and all lie between low and high as far as they fit.
func spread(wanted []float64, distance, low, high float64) []float64 {
	order := make([]int, len(wanted))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(wanted[a], wanted[b]) })
	// Blocks of neighbours that touch stand around the mean of what they want.
	type block struct{ sum, n float64 }
	var blocks []block
	bottom := func(b block) float64 { return max(low, min(b.sum/b.n-(b.n-1)*distance/2, high-(b.n-1)*distance)) }
	for _, i := range order {
		blocks = append(blocks, block{wanted[i], 1})
		for k := len(blocks) - 1; k > 0; k-- {
			below, above := blocks[k-1], blocks[k]
			if bottom(above) >= bottom(below)+below.n*distance {
				break
			}
			blocks = append(blocks[:k-1], block{below.sum + above.sum, below.n + above.n})
		}
	}
	heights := make([]float64, len(wanted))
	at := 0
	for _, b := range blocks {
		for k := range int(b.n) {
			heights[order[at]] = bottom(b) + float64(k)*distance
			at++
		}
	}
	return heights
}

// studyText lists the figures of all series.
func studyText(all []studySeries, place func(x float64) string) string {
	var b strings.Builder
	for _, s := range all {
		fmt.Fprintf(&b, "%s:", s.method)
		for _, p := range s.points {
			fmt.Fprintf(&b, " %s %% %s%s;", p.score.F1.Percent(), place(p.x), inParentheses(p.score.Low, p.score.High))
		}
		b.WriteString(" ")
	}
	return strings.TrimSpace(b.String())
}
