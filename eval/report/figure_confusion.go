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

// confusionFigure draws, for each annotated state, the share of its time by
// predicted state. Time without a prediction has a fifth column, if there is any.
func confusionFigure(f *eval.FrameSummary) *figure {
	columns := slices.Clone(f.States)
	if slices.Max(f.Missed[:]) > 0 {
		columns = append(columns, "none")
	}
	fig := newFigure("confusion", "Annotated and predicted state over time", narrow, 230)
	p := fig.plot
	p.X.Min, p.X.Max = 0, float64(len(columns))
	p.Y.Min, p.Y.Max = 0, float64(len(f.States))
	p.X.Label.Text, p.Y.Label.Text = "predicted state", "annotated state"
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.LineStyle.Width, axis.Tick.Length = 0, 0
	}
	var x, y plot.ConstantTicks
	for j, name := range columns {
		x = append(x, plot.Tick{Value: float64(j) + 0.5, Label: name})
	}
	for i, name := range f.States {
		y = append(y, plot.Tick{Value: float64(len(f.States)-i) - 0.5, Label: name})
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = x, y
	shares := make([][]eval.Ratio, len(f.States))
	for i := range shares {
		shares[i] = f.Shares(i)[:len(columns)]
	}
	p.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) { drawShares(&c, p, shares) }))
	var text strings.Builder
	for i, row := range shares {
		fmt.Fprintf(&text, "Annotated %s:", f.States[i])
		for j, v := range row {
			fmt.Fprintf(&text, " %s %s %%,", columns[j], v.Percent())
		}
		text.WriteString(" ")
	}
	fig.text = strings.ReplaceAll(strings.TrimSuffix(text.String(), ", ")+".", ", Annotated", ". Annotated")
	return fig
}

// drawShares writes each share into its cell. The larger the share, the darker
// the cell.
func drawShares(c *draw.Canvas, p *plot.Plot, rows [][]eval.Ratio) {
	x, y := p.Transforms(c)
	for i, row := range rows {
		top := float64(len(rows) - i)
		for j, v := range row {
			corners := []vg.Point{
				{X: x(float64(j)) + 1, Y: y(top-1) + 1}, {X: x(float64(j+1)) - 1, Y: y(top-1) + 1},
				{X: x(float64(j+1)) - 1, Y: y(top) - 1}, {X: x(float64(j)) + 1, Y: y(top) - 1},
			}
			if !v.Null() {
				c.FillPolygon(translucent(blue, 0.04+0.46*float64(v)), corners)
			}
			if i == j {
				c.StrokeLines(draw.LineStyle{Color: ink, Width: 1}, append(corners, corners[0]))
			}
			c.FillText(smallText(p, draw.XCenter, draw.YCenter), vg.Point{X: x(float64(j) + 0.5), Y: y(top - 0.5)}, v.Percent()+" %")
		}
	}
}
