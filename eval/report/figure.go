package report

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// figure is a drawing and its description for screen readers.
type figure struct {
	name  string // of its file, without extension, and of its element in a page
	title string
	text  string // what the figure shows, with its numbers

	width, height vg.Length
	plot          *plot.Plot
}

// Widths of figures in points. The narrow one is legible on a telephone and fits
// a column of a paper when printed at 75 %.
const (
	narrow = 340
	wide   = 720
)

const (
	textSize  = 10
	smallSize = 9
)

// newFigure returns a figure with an empty plot.
func newFigure(name, title string, width, height vg.Length) *figure {
	p := plot.New()
	p.BackgroundColor = nil
	for _, style := range []*draw.TextStyle{
		&p.Title.TextStyle, &p.X.Label.TextStyle, &p.Y.Label.TextStyle, &p.X.Tick.Label, &p.Y.Tick.Label, &p.Legend.TextStyle,
	} {
		style.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: textSize}
		style.Color = ink
	}
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.LineStyle.Color = ink
		axis.Tick.LineStyle.Color = ink
		axis.Tick.Label.Font.Size = smallSize
		axis.Padding = 2
	}
	p.Legend.TextStyle.Font.Size = smallSize
	p.Legend.Padding = 1
	p.Legend.ThumbnailWidth = 30
	return &figure{name: name, title: title, width: width, height: height, plot: p}
}

// grid draws grid lines at the ticks of the chosen axes.
func (f *figure) grid(vertical, horizontal bool) {
	g := plotter.NewGrid()
	g.Vertical = draw.LineStyle{Color: gridColour, Width: 0.6}
	g.Horizontal = g.Vertical
	if !vertical {
		g.Vertical.Color = nil
	}
	if !horizontal {
		g.Horizontal.Color = nil
	}
	f.plot.Add(g)
}

// plotFunc is a function used as a plot.Plotter.
type plotFunc func(c draw.Canvas, p *plot.Plot)

// Plot implements plot.Plotter.
func (f plotFunc) Plot(c draw.Canvas, p *plot.Plot) { f(c, p) }

// smallText is the style of text within a figure.
func smallText(p *plot.Plot, x draw.XAlignment, y draw.YAlignment) draw.TextStyle {
	style := p.X.Tick.Label
	style.XAlign, style.YAlign = x, y
	return style
}

// ticksEvery returns ticks from low to high at a distance of step, with labels
// by format.
func ticksEvery(low, high, step float64, format string) plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for k := 0; ; k++ {
		v := low + float64(k)*step
		if v > high+step/1e6 {
			return ticks
		}
		ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprintf(format, v)})
	}
}

// dataSpan returns the coordinates of both ends of the x axis in the SVG.
func (f *figure) dataSpan() (left, right float64) {
	c := f.plot.DataCanvas(draw.NewCanvas(vgsvg.New(f.width, f.height), f.width, f.height))
	return c.Min.X.Points(), c.Max.X.Points()
}

// pageStyles replaces colours and fonts by those of the page.
var pageStyles = strings.NewReplacer(
	"stroke:#000000", "stroke:var(--ink)",
	"stroke:#D8D8D8", "stroke:var(--rule)",
	"\n\tstyle=\"font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;", ` style="`,
	"\n", "",
)

// stretchImages makes the images of an SVG fill their rectangles, and names their
// format, which is PNG.
var stretchImages = strings.NewReplacer(`xlink:href="data:image/jpg;base64,`, `preserveAspectRatio="none" xlink:href="data:image/png;base64,`)

// svg returns the figure as an element of a page, with title and description for
// screen readers and with overlay, more SVG, drawn over it. The ids within start
// with the name of the figure.
func (f *figure) svg(overlay string) template.HTML {
	id := template.HTMLEscapeString(f.name)
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-labelledby="%s-title %s-text" viewBox="0 0 %g %g" class="drawn">`+
		`<title id="%s-title">%s</title><desc id="%s-text">%s</desc>%s%s</svg>`,
		id, id, f.width.Points(), f.height.Points(),
		id, template.HTMLEscapeString(f.title), id, template.HTMLEscapeString(f.text), f.markup(f.plot.Draw), overlay))
}

// markup returns what is drawn on a canvas of the size of the figure as SVG elements.
func (f *figure) markup(drawOn func(draw.Canvas)) string {
	c := vgsvg.New(f.width, f.height)
	drawOn(draw.New(c))
	var b bytes.Buffer
	_, _ = c.WriteTo(&b) // a bytes.Buffer takes all
	_, inner, _ := strings.Cut(stretchImages.Replace(b.String()), "<g ")
	return pageStyles.Replace("<g " + strings.TrimSuffix(strings.TrimSpace(inner), "</svg>"))
}

// printResolution is the resolution of PNG files in dots per inch, as journals
// require for combined line and tone art.
const printResolution = 300

// files returns the figure as SVG, PNG and PDF on a white background.
func (f *figure) files() ([]File, error) {
	f.plot.BackgroundColor = paper
	defer func() { f.plot.BackgroundColor = nil }()
	var files []File
	for _, format := range []struct {
		extension string
		canvas    func() vg.CanvasWriterTo
	}{
		{".svg", func() vg.CanvasWriterTo { return vgsvg.New(f.width, f.height) }},
		{".png", func() vg.CanvasWriterTo {
			return vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(f.width, f.height), vgimg.UseDPI(printResolution))}
		}},
		{".pdf", func() vg.CanvasWriterTo { return f.pdf() }},
	} {
		c := format.canvas()
		f.plot.Draw(draw.New(c))
		var b bytes.Buffer
		if _, err := c.WriteTo(&b); err != nil {
			return nil, fmt.Errorf("figure %s: %w", f.name, err)
		}
		content := b.Bytes()
		if format.extension == ".svg" {
			content = []byte(stretchImages.Replace(b.String()))
		}
		files = append(files, File{f.name + format.extension, content})
	}
	return files, nil
}

// pdf returns a PDF canvas with the start of Unix time as its date, so that the
// same figure gives the same file.
func (f *figure) pdf() vg.CanvasWriterTo {
	setDatesOfPDF()
	return vgpdf.New(f.width, f.height)
}

// setDatesOfPDF sets what is the same in all PDF files, for the whole program.
var setDatesOfPDF = sync.OnceFunc(func() {
	epoch := time.Unix(0, 0).UTC()
	fpdf.SetDefaultCreationDate(epoch)
	fpdf.SetDefaultModificationDate(epoch)
	fpdf.SetDefaultCatalogSort(true)
})
