package report

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"strings"
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

// Figure is one drawing, with what a reader is told who cannot see it.
type Figure struct {
	Name  string // of its file, without extension, and of its place in a page
	Title string
	Text  string // what the figure shows, with its numbers

	width, height vg.Length
	plot          *plot.Plot
}

// Sizes of figures. The narrow one is legible on a telephone and fits a column of
// a paper when printed at three quarters.
const (
	narrow = 340
	wide   = 720
)

const (
	textSize  = 10
	smallSize = 9
)

// newFigure returns a figure with an empty plot.
func newFigure(name, title string, width, height vg.Length) *Figure {
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
	return &Figure{Name: name, Title: title, width: width, height: height, plot: p}
}

// grid draws lines at the ticks of the axes that are asked for.
func (f *Figure) grid(vertical, horizontal bool) {
	g := plotter.NewGrid()
	g.Vertical = draw.LineStyle{Color: rule, Width: 0.6}
	g.Horizontal = g.Vertical
	if !vertical {
		g.Vertical.Color = nil
	}
	if !horizontal {
		g.Horizontal.Color = nil
	}
	f.plot.Add(g)
}

// drawing is a plotter that is a function.
type drawing func(c draw.Canvas, p *plot.Plot)

// Plot implements plot.Plotter.
func (d drawing) Plot(c draw.Canvas, p *plot.Plot) { d(c, p) }

// small is the style of words within a figure.
func small(p *plot.Plot, x draw.XAlignment, y draw.YAlignment) draw.TextStyle {
	style := p.X.Tick.Label
	style.XAlign, style.YAlign = x, y
	return style
}

// steps returns ticks at multiples of step from low to high, labelled as format
// says.
func steps(low, high, step float64, format string) plot.ConstantTicks {
	var ticks plot.ConstantTicks
	for k := 0; ; k++ {
		v := low + float64(k)*step
		if v > high+step/1e6 {
			return ticks
		}
		ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprintf(format, v)})
	}
}

// dataSpan returns where the left and the right end of the x axis lie in the
// coordinates of the SVG.
func (f *Figure) dataSpan() (left, right float64) {
	c := f.plot.DataCanvas(draw.NewCanvas(vgsvg.New(f.width, f.height), f.width, f.height))
	return c.Min.X.Points(), c.Max.X.Points()
}

// svg returns what stands within the svg element.
func (f *Figure) svg() string {
	c := vgsvg.New(f.width, f.height)
	f.plot.Draw(draw.New(c))
	var b bytes.Buffer
	_, _ = c.WriteTo(&b) // a bytes.Buffer takes all
	_, inner, _ := strings.Cut(b.String(), "<g ")
	return "<g " + strings.TrimSuffix(strings.TrimSpace(inner), "</svg>")
}

// ofThePage makes the ink, the grid and the letters of a figure those of the page
// around it.
var ofThePage = strings.NewReplacer(
	"stroke:#000000", "stroke:var(--ink)",
	"stroke:#D8D8D8", "stroke:var(--rule)",
	"\n\tstyle=\"font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;", ` style="`,
	"\n", "",
)

// SVG returns the figure as an element of a page, with title and text for
// readers who cannot see it. The ids within begin with the name of the figure.
func (f *Figure) SVG() template.HTML { return f.element("") }

// element returns the figure with more elements drawn over it, in a coordinate
// system whose y points down.
func (f *Figure) element(over string) template.HTML {
	id := template.HTMLEscapeString(f.Name)
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-labelledby="%s-title %s-text" viewBox="0 0 %g %g" class="drawn">`+
		`<title id="%s-title">%s</title><desc id="%s-text">%s</desc>%s%s</svg>`,
		id, id, f.width.Points(), f.height.Points(),
		id, template.HTMLEscapeString(f.Title), id, template.HTMLEscapeString(f.Text), ofThePage.Replace(f.svg()), over))
}

// printResolution is that of PNG files in dots per inch, as journals ask for line
// drawings with tone.
const printResolution = 300

// Write writes the figure into a folder as SVG, PNG and PDF on white paper, and
// returns the paths of the files.
func (f *Figure) Write(dir string) ([]string, error) {
	f.plot.BackgroundColor = paper
	defer func() { f.plot.BackgroundColor = nil }()
	var paths []string
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
		path := filepath.Join(dir, f.Name+format.extension)
		if err := writeFile(path, c); err != nil {
			return paths, fmt.Errorf("figure %s: %w", f.Name, err)
		}
		paths = append(paths, path)
	}
	return paths, nil
}

// pdf returns a PDF canvas whose file says nothing of the day on which it is
// made: its date is the beginning of Unix time.
func (f *Figure) pdf() vg.CanvasWriterTo {
	epoch := time.Unix(0, 0).UTC()
	fpdf.SetDefaultCreationDate(epoch)
	fpdf.SetDefaultModificationDate(epoch)
	fpdf.SetDefaultCatalogSort(true)
	return vgpdf.New(f.width, f.height)
}

func writeFile(path string, content io.WriterTo) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if _, err := content.WriteTo(file); err != nil {
		file.Close()
		return err
	}
	return file.Close()
}
