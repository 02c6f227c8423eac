package report

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// Colours of Okabe and Ito (2008) that have a contrast of 3 or more with white
// and with black paper. Their yellow, orange and sky blue are too light for
// white, and black is too dark for black.
var (
	blue          = color.NRGBA{0x00, 0x72, 0xB2, 0xFF}
	vermillion    = color.NRGBA{0xD5, 0x5E, 0x00, 0xFF}
	bluishGreen   = color.NRGBA{0x00, 0x9E, 0x73, 0xFF}
	reddishPurple = color.NRGBA{0xCC, 0x79, 0xA7, 0xFF}
)

// Colours of text and axes, of grid lines, and of the background. In a page the
// style sheet replaces the first two, so that they follow the light or dark
// scheme.
var (
	ink        = color.NRGBA{0x00, 0x00, 0x00, 0xFF}
	gridColour = color.NRGBA{0xD8, 0xD8, 0xD8, 0xFF}
	paper      = color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}
)

// translucent returns c with an opacity from 0 to 1.
func translucent(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(opacity*255 + 0.5)
	return c
}

// seriesStyle is how one of several series is drawn. Series differ in symbol,
// and in colour or dash.
type seriesStyle struct {
	colour color.NRGBA
	dash   []vg.Length
	shape  draw.GlyphDrawer
}

// seriesStyles are the styles of successive series: as many as a reader can tell
// apart. Further series start again with the first.
var seriesStyles = []seriesStyle{
	{blue, nil, draw.CircleGlyph{}},
	{vermillion, []vg.Length{6, 2}, draw.BoxGlyph{}},
	{bluishGreen, []vg.Length{2, 2}, draw.PyramidGlyph{}},
	{reddishPurple, []vg.Length{8, 2, 2, 2}, cross},
	{ink, []vg.Length{1, 3}, plus},
	{blue, []vg.Length{4, 2, 1, 2}, diamond},
	{vermillion, nil, square},
	{bluishGreen, []vg.Length{10, 3}, triangle},
}

// strokes is a symbol of lines, in units of its radius. Those of the library are too thin
// to be seen without a line through them.
type strokes [][]vg.Point

var (
	cross    = strokes{{{X: -0.8, Y: -0.8}, {X: 0.8, Y: 0.8}}, {{X: -0.8, Y: 0.8}, {X: 0.8, Y: -0.8}}}
	plus     = strokes{{{X: -1}, {X: 1}}, {{Y: -1}, {Y: 1}}}
	diamond  = strokes{{{X: -1.1}, {Y: 1.1}, {X: 1.1}, {Y: -1.1}, {X: -1.1}}}
	square   = strokes{{{X: -0.9, Y: -0.9}, {X: -0.9, Y: 0.9}, {X: 0.9, Y: 0.9}, {X: 0.9, Y: -0.9}, {X: -0.9, Y: -0.9}}}
	triangle = strokes{{{X: -1, Y: -0.7}, {Y: 1.1}, {X: 1, Y: -0.7}, {X: -1, Y: -0.7}}}
)

// DrawGlyph implements draw.GlyphDrawer.
func (s strokes) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	for _, unit := range s {
		line := make([]vg.Point, len(unit))
		for i, p := range unit {
			line[i] = at.Add(p.Scale(style.Radius))
		}
		c.StrokeLines(draw.LineStyle{Color: style.Color, Width: 1.2}, line)
	}
}

func styleOf(series int) seriesStyle { return seriesStyles[series%len(seriesStyles)] }

func (s seriesStyle) line(width vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: s.colour, Width: width, Dashes: s.dash}
}

func (s seriesStyle) glyph(radius vg.Length) draw.GlyphStyle {
	return draw.GlyphStyle{Color: s.colour, Radius: radius, Shape: s.shape}
}

// stateColour returns the colour of a sound; systole and diastole have that of
// text.
func stateColour(s pcg.State) color.NRGBA {
	switch s {
	case pcg.S1:
		return blue
	case pcg.S2:
		return vermillion
	}
	return ink
}
