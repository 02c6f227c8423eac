package report

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// The colours of Okabe and Ito (2008) that stand out from white and from black
// paper alike, with a contrast of 3 or more. Their yellow, orange and sky blue do
// not on white, and black does not on black.
var (
	blue          = color.NRGBA{0x00, 0x72, 0xB2, 0xFF}
	vermillion    = color.NRGBA{0xD5, 0x5E, 0x00, 0xFF}
	bluishGreen   = color.NRGBA{0x00, 0x9E, 0x73, 0xFF}
	reddishPurple = color.NRGBA{0xCC, 0x79, 0xA7, 0xFF}
)

// ink is the colour of text and axes, and paper that of the ground. In a page
// they become those of the reader's choice of light or dark.
var (
	ink   = color.NRGBA{0x00, 0x00, 0x00, 0xFF}
	rule  = color.NRGBA{0xD8, 0xD8, 0xD8, 0xFF} // of grids
	paper = color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}
)

// faint returns c let through to the given share.
func faint(c color.NRGBA, share float64) color.NRGBA {
	c.A = uint8(share*255 + 0.5)
	return c
}

// A mark is how one of several series is drawn, told apart by colour, dash and
// shape at once.
type mark struct {
	colour color.NRGBA
	dash   []vg.Length
	shape  draw.GlyphDrawer
}

// marks are those of successive series. There are as many as a reader can tell
// apart; more series than that take them again from the first.
var marks = []mark{
	{blue, nil, draw.CircleGlyph{}},
	{vermillion, []vg.Length{6, 2}, draw.BoxGlyph{}},
	{bluishGreen, []vg.Length{2, 2}, draw.PyramidGlyph{}},
	{reddishPurple, []vg.Length{8, 2, 2, 2}, draw.CrossGlyph{}},
	{ink, []vg.Length{1, 3}, draw.PlusGlyph{}},
}

func markOf(i int) mark { return marks[i%len(marks)] }

func (m mark) line(width vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: m.colour, Width: width, Dashes: m.dash}
}

func (m mark) glyph(radius vg.Length) draw.GlyphStyle {
	return draw.GlyphStyle{Color: m.colour, Radius: radius, Shape: m.shape}
}

// colourOf returns the colour of a state: one for each sound, none for pauses.
func colourOf(s pcg.State) color.NRGBA {
	switch s {
	case pcg.S1:
		return blue
	case pcg.S2:
		return vermillion
	}
	return ink
}
