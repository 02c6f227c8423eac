package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// View is a stretch of one recording as a reader sees and hears it: waveform,
// envelope, reference and predictions over one axis of time.
type View struct {
	Recording string
	Facts     []Fact // what is said of it, in this order
	From, To  time.Duration

	// Samples of the stretch and of their envelope, at their rates in hertz. Both
	// are empty where there is no audio, and then nothing is heard.
	Wave, Envelope         []float64
	WaveRate, EnvelopeRate int

	Reference pcg.Reference
	Tracks    []Track // predictions

	// MarkedBy names the reference where it is no annotation of the data set.
	MarkedBy string
}

func (v *View) referenceName() string { return cmp.Or(v.MarkedBy, "reference") }

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Track is what one method says of a recording.
type Track struct {
	Name      string
	Intervals []pcg.Interval
}

// Window chooses the stretch of the given width in which a reference says most,
// the earliest of equals: from the first to the last moment of a recording that
// lasts length. Stretches begin at multiples of half a second.
func Window(ref *pcg.Reference, length, width time.Duration) (from, to time.Duration) {
	const step = 500 * time.Millisecond
	if length <= width {
		return 0, length
	}
	best := -1.0
	for t := time.Duration(0); t+width <= length; t += step {
		if said := annotated(ref, t, t+width); said > best {
			best, from = said, t
		}
	}
	return from, from + width
}

// annotated returns the seconds of [from, to) that are annotated, or the number
// of points in it.
func annotated(ref *pcg.Reference, from, to time.Duration) float64 {
	var sum time.Duration
	for _, iv := range ref.Intervals {
		sum += max(0, min(iv.End, to)-max(iv.Start, from))
	}
	n := 0
	for _, p := range ref.Points {
		if p.At >= from && p.At < to {
			n++
		}
	}
	return sum.Seconds() + float64(n)
}

// A lane is a strip of the figure of a view, measured in points from its bottom.
type lane struct {
	name     string
	low, top float64
	draw     func(c *draw.Canvas, p *plot.Plot, l *lane)
}

// lanes lays the strips out from the bottom up and returns their height.
func (v *View) lanes() (list []lane, height float64) {
	const gap = 7
	put := func(name string, size float64, d func(*draw.Canvas, *plot.Plot, *lane)) {
		list = append(list, lane{name, height, height + size, d})
		height += size + gap
	}
	const stateLane = 24
	for i := len(v.Tracks) - 1; i >= 0; i-- {
		track := &v.Tracks[i]
		put(track.Name, stateLane, func(c *draw.Canvas, p *plot.Plot, l *lane) { v.drawStates(c, p, l, track.Intervals) })
	}
	put(v.referenceName(), stateLane, func(c *draw.Canvas, p *plot.Plot, l *lane) {
		v.drawStates(c, p, l, v.Reference.Intervals)
		v.drawPoints(c, p, l)
	})
	if len(v.Envelope) > 0 {
		put("envelope", 52, func(c *draw.Canvas, p *plot.Plot, l *lane) { v.drawEnvelope(c, p, l) })
	}
	if len(v.Wave) > 0 {
		put("sound", 82, func(c *draw.Canvas, p *plot.Plot, l *lane) { v.drawWave(c, p, l) })
	}
	return list, height - gap
}

// Figure draws the view.
func (v *View) Figure(name string) *Figure {
	lanes, height := v.lanes()
	f := newFigure(name, "Recording "+v.Recording, wide, vg.Length(height)+40)
	p := f.plot
	p.X.Min, p.X.Max = v.From.Seconds(), v.To.Seconds()
	p.Y.Min, p.Y.Max = 0, height
	p.X.Label.Text = "time in the recording, s"
	p.X.Tick.Marker = steps(math.Ceil(p.X.Min), p.X.Max, 1, "%.0f")
	p.Y.LineStyle.Width, p.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var ticks plot.ConstantTicks
	for _, l := range lanes {
		ticks = append(ticks, plot.Tick{Value: (l.low + l.top) / 2, Label: shorten(l.name, 18)})
	}
	p.Y.Tick.Marker = ticks
	p.Add(drawing(func(c draw.Canvas, p *plot.Plot) {
		v.shadeSounds(&c, p)
		for i := range lanes {
			lanes[i].draw(&c, p, &lanes[i])
		}
	}))
	f.Text = v.text()
	return f
}

// text says what the figure of the view shows.
func (v *View) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%.1f to %.1f s of the recording.", v.From.Seconds(), v.To.Seconds())
	tell := func(name string, intervals []pcg.Interval, points []pcg.Point) {
		var n [5]int
		for _, iv := range v.within(intervals) {
			n[iv.State]++
		}
		for _, p := range points {
			if p.At >= v.From && p.At < v.To {
				n[p.Sound]++
			}
		}
		fmt.Fprintf(&b, " %s: %d S1 and %d S2.", name, n[pcg.S1], n[pcg.S2])
	}
	tell("States of "+v.referenceName(), v.Reference.Intervals, v.Reference.Points)
	for _, t := range v.Tracks {
		tell(t.Name, t.Intervals, nil)
	}
	return b.String()
}

// within returns the intervals as far as they lie in the view.
func (v *View) within(intervals []pcg.Interval) []pcg.Interval {
	var cut []pcg.Interval
	for _, iv := range intervals {
		iv.Start, iv.End = max(iv.Start, v.From), min(iv.End, v.To)
		if iv.Start < iv.End && iv.State != pcg.Unannotated {
			cut = append(cut, iv)
		}
	}
	return cut
}

func rectangle(x0, y0, x1, y1 vg.Length) []vg.Point {
	return []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// shadeSounds lays the sounds of the reference faintly under the whole figure.
func (v *View) shadeSounds(c *draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(c)
	for _, iv := range v.within(v.Reference.Intervals) {
		if iv.State.IsSound() {
			c.FillPolygon(faint(colourOf(iv.State), 0.13), rectangle(x(iv.Start.Seconds()), c.Min.Y, x(iv.End.Seconds()), c.Max.Y))
		}
	}
}

// drawStates draws states as a reader tells them apart without colour: S1 as a
// tall block with a 1, S2 as a low block with a 2, systole as a line, diastole as
// a broken line.
func (v *View) drawStates(c *draw.Canvas, p *plot.Plot, l *lane, intervals []pcg.Interval) {
	x, y := p.Transforms(c)
	low, top, middle := y(l.low), y(l.top), y((l.low+l.top)/2)
	for _, iv := range v.within(intervals) {
		a, b := x(iv.Start.Seconds()), x(iv.End.Seconds())
		switch iv.State {
		case pcg.Systole:
			c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.2}, a, middle, b, middle)
		case pcg.Diastole:
			c.StrokeLine2(draw.LineStyle{Color: ink, Width: 1.2, Dashes: []vg.Length{1.5, 2.5}}, a, middle, b, middle)
		default:
			edge, numeral := vg.Length(0), "1"
			if iv.State == pcg.S2 {
				edge, numeral = (top-low)*0.18, "2"
			}
			c.FillPolygon(colourOf(iv.State), rectangle(a, low+edge, b, top-edge))
			if b-a >= 5 {
				style := small(p, draw.XCenter, draw.YCenter)
				style.Color = paper
				c.FillText(style, vg.Point{X: (a + b) / 2, Y: middle}, numeral)
			}
		}
	}
}

// drawPoints draws a reference that marks the middle of sounds only.
func (v *View) drawPoints(c *draw.Canvas, p *plot.Plot, l *lane) {
	x, y := p.Transforms(c)
	for _, point := range v.Reference.Points {
		if point.At < v.From || point.At >= v.To {
			continue
		}
		at, height, numeral := x(point.At.Seconds()), 1.0, "1"
		if point.Sound == pcg.S2 {
			height, numeral = 0.6, "2"
		}
		c.StrokeLine2(draw.LineStyle{Color: colourOf(point.Sound), Width: 2}, at, y(l.low), at, y(l.low+height*(l.top-l.low)))
		c.FillText(small(p, draw.XLeft, draw.YBottom), vg.Point{X: at + 2, Y: y(l.low)}, numeral)
	}
}

// loudest returns the largest magnitude of samples within annotated time, where the
// heart is, or of all where nothing is annotated. Rubbing and knocks outside would
// else press the heart flat.
func (v *View) loudest(samples []float64, rate int) float64 {
	peak := 0.0
	for _, iv := range v.within(v.Reference.Intervals) {
		a, b := pcg.ToSamples(iv.Start-v.From, rate), pcg.ToSamples(iv.End-v.From, rate)
		for _, s := range samples[min(a, len(samples)):min(b, len(samples))] {
			peak = max(peak, math.Abs(s))
		}
	}
	if peak > 0 {
		return peak
	}
	for _, s := range samples {
		peak = max(peak, math.Abs(s))
	}
	return peak
}

// drawWave draws the range of the samples in each column one point wide, scaled
// to the loudest annotated moment; what is louder is cut off.
func (v *View) drawWave(c *draw.Canvas, p *plot.Plot, l *lane) {
	_, y := p.Transforms(c)
	peak := v.loudest(v.Wave, v.WaveRate)
	middle, half := (l.low+l.top)/2, (l.top-l.low)/2
	at := func(s float64) vg.Length {
		if peak == 0 {
			return y(middle)
		}
		return y(middle + half*min(max(s/peak, -1), 1))
	}
	var line []vg.Point
	eachColumn(c, p, v.Wave, v.WaveRate, v.From, func(x vg.Length, part []float64) {
		low, high := part[0], part[0]
		for _, s := range part {
			low, high = min(low, s), max(high, s)
		}
		line = append(line, vg.Point{X: x, Y: at(low)}, vg.Point{X: x, Y: at(high)})
	})
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.7}, line)
}

// drawEnvelope draws the mean of the envelope in each column, scaled like the wave.
func (v *View) drawEnvelope(c *draw.Canvas, p *plot.Plot, l *lane) {
	_, y := p.Transforms(c)
	var line []vg.Point
	peak := v.loudest(v.Envelope, v.EnvelopeRate)
	eachColumn(c, p, v.Envelope, v.EnvelopeRate, v.From, func(x vg.Length, part []float64) {
		sum := 0.0
		for _, s := range part {
			sum += s
		}
		if peak > 0 {
			line = append(line, vg.Point{X: x, Y: y(l.low + (l.top-l.low)*min(sum/float64(len(part))/peak, 1))})
		}
	})
	c.StrokeLines(draw.LineStyle{Color: bluishGreen, Width: 1.3}, line)
}

// eachColumn calls visit with the samples of each column one point wide, from the
// left to the right end of the axis of time. Columns without a sample are left
// out.
func eachColumn(c *draw.Canvas, p *plot.Plot, samples []float64, rate int, from time.Duration, visit func(x vg.Length, part []float64)) {
	span := p.X.Max - p.X.Min
	columns := int(c.Max.X - c.Min.X)
	index := func(column int) int {
		t := p.X.Min + span*float64(column)/float64(columns) - from.Seconds()
		return min(max(int(math.Round(t*float64(rate))), 0), len(samples))
	}
	for i := range columns {
		if a, b := index(i), index(i+1); a < b {
			visit(c.Min.X+vg.Length(i)+0.5, samples[a:b])
		}
	}
}

// pointReach is how far around a point of a reference the player names its sound.
const pointReach = 40 * time.Millisecond

// playerStates returns what the player says at which time, as JSON: for each
// track its name and [start ms, end ms, state] from the start of the view.
func (v *View) playerStates() string {
	type track struct {
		Name   string   `json:"name"`
		States [][3]any `json:"states"`
	}
	rows := func(intervals []pcg.Interval) [][3]any {
		list := [][3]any{}
		for _, iv := range v.within(intervals) {
			list = append(list, [3]any{(iv.Start - v.From).Milliseconds(), (iv.End - v.From).Milliseconds(), iv.State.String()})
		}
		return list
	}
	reference := rows(v.Reference.Intervals)
	for _, p := range v.Reference.Points {
		reference = append(reference, rows([]pcg.Interval{{Start: p.At - pointReach, End: p.At + pointReach, State: p.Sound}})...)
	}
	tracks := []track{{v.referenceName(), reference}}
	for _, t := range v.Tracks {
		tracks = append(tracks, track{t.Name, rows(t.Intervals)})
	}
	content, err := json.Marshal(tracks)
	if err != nil {
		panic(err) // strings and integers only
	}
	return string(content)
}

// cursorLine is the line that moves over a figure while its sound plays.
func cursorLine(left, top, bottom float64) string {
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) }
	return fmt.Sprintf(`<line class="cursor" x1="%s" x2="%s" y1="%s" y2="%s"/>`, number(left), number(left), number(top), number(bottom))
}
