package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// sketch is a figure as its SVG has it: lines and areas as lists of points, and
// texts, in points from the lower left corner.
type sketch struct {
	paths []path
	texts []label

	// The data area of the figure and the values at its edges.
	left, right, bottom, top float64
	axes                     axes
}

type axes struct{ left, right, bottom, top float64 }

type path struct {
	style  string
	points []point
}

type label struct {
	at   point
	text string
}

type point struct{ x, y float64 }

func (p point) near(q point) bool { return math.Abs(p.x-q.x) < 0.02 && math.Abs(p.y-q.y) < 0.02 }

// sketchOf parses the SVG of a figure, whose axes must end at the given values.
func sketchOf(t *testing.T, f *figure, a axes) *sketch {
	t.Helper()
	p := f.plot
	for _, v := range [][2]float64{{p.X.Min, a.left}, {p.X.Max, a.right}, {p.Y.Min, a.bottom}, {p.Y.Max, a.top}} {
		if math.Abs(v[0]-v[1]) > 1e-9 {
			t.Errorf("%s: axes from %v to %v and from %v to %v, want %+v", f.name, p.X.Min, p.X.Max, p.Y.Min, p.Y.Max, a)
			break
		}
	}
	area := p.DataCanvas(draw.NewCanvas(vgsvg.New(f.width, f.height), f.width, f.height))
	s := &sketch{left: area.Min.X.Points(), right: area.Max.X.Points(), bottom: area.Min.Y.Points(), top: area.Max.Y.Points(), axes: a}
	s.parse(t, string(f.svg("")))
	return s
}

var coordinates = regexp.MustCompile(`[ML](-?[\d.]+),(-?[\d.]+)`)

// parse takes in all paths and all texts that are not turned.
func (s *sketch) parse(t *testing.T, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	turned, depth := 0, 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Fatalf("%v in %.200s", err, svg)
		}
		switch e := token.(type) {
		case xml.EndElement:
			if depth == turned {
				turned = 0
			}
			depth--
		case xml.StartElement:
			depth++
			attributes := map[string]string{}
			for _, a := range e.Attr {
				attributes[a.Name.Local] = a.Value
			}
			switch {
			case e.Name.Local == "g" && strings.HasPrefix(attributes["transform"], "rotate"):
				turned = depth
			case e.Name.Local == "path":
				p := path{style: attributes["style"]}
				for _, m := range coordinates.FindAllStringSubmatch(attributes["d"], -1) {
					p.points = append(p.points, pointOf(t, m[1], m[2]))
				}
				s.paths = append(s.paths, p)
			case e.Name.Local == "text" && turned == 0:
				var text string
				if err := d.DecodeElement(&text, &e); err != nil {
					t.Fatal(err)
				}
				depth--
				at := pointOf(t, attributes["x"], attributes["y"])
				s.texts = append(s.texts, label{point{at.x, -at.y}, text})
			}
		}
	}
}

func pointOf(t *testing.T, x, y string) (p point) {
	t.Helper()
	if _, err := fmt.Sscan(x+" "+y, &p.x, &p.y); err != nil {
		t.Fatal(err)
	}
	return p
}

// at returns where a value stands, moved by some points.
func (s *sketch) at(x, y, dx, dy float64) point {
	return point{
		s.left + (s.right-s.left)*(x-s.axes.left)/(s.axes.right-s.axes.left) + dx,
		s.bottom + (s.top-s.bottom)*(y-s.axes.bottom)/(s.axes.top-s.axes.bottom) + dy,
	}
}

// count returns how many paths have a style and lead over the given points.
func (s *sketch) count(style string, points ...point) int {
	n := 0
	for _, p := range s.paths {
		if !strings.Contains(p.style, style) || len(p.points) != len(points) {
			continue
		}
		same := true
		for i := range points {
			same = same && p.points[i].near(points[i])
		}
		if same {
			n++
		}
	}
	return n
}

// has fails the test unless one path, and no more, has the style and leads over the
// points.
func (s *sketch) has(t *testing.T, what, style string, points ...point) {
	t.Helper()
	if n := s.count(style, points...); n != 1 {
		t.Errorf("%s: drawn %d times with %s at %.2f, want once; there are %q", what, n, style, points, s.styles())
	}
}

// styled returns the points of the paths of a style.
func (s *sketch) styled(style string) (list [][]point) {
	for _, p := range s.paths {
		if strings.Contains(p.style, style) {
			list = append(list, p.points)
		}
	}
	return list
}

// text returns the place of a text that stands once.
func (s *sketch) text(t *testing.T, text string) point {
	t.Helper()
	var found []point
	for _, l := range s.texts {
		if l.text == text {
			found = append(found, l.at)
		}
	}
	if len(found) != 1 {
		t.Errorf("%q stands %d times, want once; there are %v", text, len(found), s.texts)
		return point{}
	}
	return found[0]
}

// within fails the test unless a text lies between two values of both axes.
func (s *sketch) within(t *testing.T, text string, x0, y0, x1, y1 float64) {
	t.Helper()
	p, low, high := s.text(t, text), s.at(x0, y0, 0, 0), s.at(x1, y1, 0, 0)
	if p.x < low.x || p.x > high.x || p.y < low.y || p.y > high.y {
		t.Errorf("%q stands at %.2f, want it between %.2f and %.2f", text, p, low, high)
	}
}

// styles lists the styles of all paths.
func (s *sketch) styles() (list []string) {
	for _, p := range s.paths {
		if !slices.Contains(list, p.style) {
			list = append(list, p.style)
		}
	}
	return list
}
