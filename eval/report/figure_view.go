package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// strip is a horizontal strip of the figure of a view, in points from its bottom.
type strip struct {
	name     string
	low, top float64
	draw     func(c *draw.Canvas, p *plot.Plot, l *strip)
}

// strips returns the strips from the bottom up and their total height.
func (v *View) strips() (list []strip, height float64) {
	const gap = 7
	add := func(name string, size float64, d func(*draw.Canvas, *plot.Plot, *strip)) {
		list = append(list, strip{name, height, height + size, d})
		height += size + gap
	}
	const stateHeight = 24
	for i := len(v.Tracks) - 1; i >= 0; i-- {
		track := &v.Tracks[i]
		add(track.Name, stateHeight, func(c *draw.Canvas, p *plot.Plot, l *strip) {
			v.drawStates(c, p, l, track.Intervals)
			v.drawPoints(c, p, l, track.Points)
		})
	}
	add(v.referenceName(), stateHeight, func(c *draw.Canvas, p *plot.Plot, l *strip) {
		v.drawStates(c, p, l, v.Reference.Intervals)
		v.drawPoints(c, p, l, v.Reference.Points)
		v.drawUnknown(c, p, l)
	})
	if len(v.Envelope) > 0 {
		add("envelope", 52, func(c *draw.Canvas, p *plot.Plot, l *strip) { v.drawEnvelope(c, p, l) })
	}
	if len(v.Wave) > 0 {
		if !v.noSpectrogram {
			add(fmt.Sprintf("0 to %d Hz", spectrogramTop), 70, v.drawSpectrogram)
		}
		add("sound", 82, func(c *draw.Canvas, p *plot.Plot, l *strip) { v.drawWave(c, p, l) })
	}
	if len(v.ECG.Wave) > 0 {
		add("ECG", 60, v.drawECG)
	}
	return list, height - gap
}

// figure draws the view.
func (v *View) figure() *figure {
	strips, height := v.strips()
	f := newFigure(v.id, "Recording "+v.Recording, wide, vg.Length(height)+40)
	p := f.plot
	p.X.Min, p.X.Max = v.From.Seconds(), v.To.Seconds()
	p.Y.Min, p.Y.Max = 0, height
	p.X.Label.Text = "time in the recording, s"
	p.X.Tick.Marker = ticksEvery(math.Ceil(p.X.Min), p.X.Max, 1, "%.0f")
	p.Y.LineStyle.Width, p.Y.Tick.Length = 0, 0
	f.grid(true, false)
	var ticks plot.ConstantTicks
	for _, l := range strips {
		ticks = append(ticks, plot.Tick{Value: (l.low + l.top) / 2, Label: shorten(l.name, 18)})
	}
	p.Y.Tick.Marker = ticks
	p.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		if !v.statesApart {
			v.shadeSounds(&c, p)
		}
		for i := range strips {
			if !v.statesApart || strips[i].name != v.referenceName() {
				strips[i].draw(&c, p, &strips[i])
			}
		}
	}))
	f.text = v.text()
	return f
}

// stateLayer draws the states of the reference alone, to be laid over the figure of
// a view that has them apart.
func (v *View) stateLayer(f *figure) string {
	return f.markup(func(c draw.Canvas) {
		c = f.plot.DataCanvas(c)
		v.shadeSounds(&c, f.plot)
		strips, _ := v.strips()
		for i := range strips {
			if strips[i].name == v.referenceName() {
				strips[i].draw(&c, f.plot, &strips[i])
			}
		}
	})
}

func rectangle(x0, y0, x1, y1 vg.Length) []vg.Point {
	return []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// shadeSounds shades the sounds of the reference over the whole height.
func (v *View) shadeSounds(c *draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(c)
	for _, iv := range v.within(v.Reference.Intervals) {
		if iv.State.IsSound() {
			c.FillPolygon(translucent(stateColour(iv.State), 0.13), rectangle(x(iv.Start.Seconds()), c.Min.Y, x(iv.End.Seconds()), c.Max.Y))
		}
	}
}

// drawStates draws states so that they differ without colour: S1 as a tall block
// with a 1, S2 as a low block with a 2, systole as a solid line, diastole as a
// dashed line.
func (v *View) drawStates(c *draw.Canvas, p *plot.Plot, l *strip, intervals []pcg.Interval) {
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
			c.FillPolygon(stateColour(iv.State), rectangle(a, low+edge, b, top-edge))
			if b-a >= 5 {
				style := smallText(p, draw.XCenter, draw.YCenter)
				style.Color = paper
				c.FillText(style, vg.Point{X: (a + b) / 2, Y: middle}, numeral)
			}
		}
	}
}

// drawPoints draws points, the centres of sounds.
func (v *View) drawPoints(c *draw.Canvas, p *plot.Plot, l *strip, points []pcg.Point) {
	x, y := p.Transforms(c)
	for _, point := range points {
		if point.At < v.From || point.At >= v.To {
			continue
		}
		at, height, numeral := x(point.At.Seconds()), 1.0, "1"
		if point.Sound == pcg.S2 {
			height, numeral = 0.6, "2"
		}
		c.StrokeLine2(draw.LineStyle{Color: stateColour(point.Sound), Width: 2}, at, y(l.low), at, y(l.low+height*(l.top-l.low)))
		c.FillText(smallText(p, draw.XLeft, draw.YBottom), vg.Point{X: at + 2, Y: y(l.low)}, numeral)
	}
}

// drawUnknown draws the time in which the beats of a reference are not known.
func (v *View) drawUnknown(c *draw.Canvas, p *plot.Plot, l *strip) {
	x, y := p.Transforms(c)
	for _, u := range v.Reference.Unannotated {
		if a, b := max(u.Start, v.From), min(u.End, v.To); a < b {
			c.FillPolygon(translucent(ink, 0.15), rectangle(x(a.Seconds()), y(l.low), x(b.Seconds()), y(l.top)))
		}
	}
}

// annotatedPeak returns the magnitude to which a signal is scaled: the largest in
// annotated time, or of all samples where nothing is annotated. Noise outside
// annotated time would otherwise make the heart sounds too small to see. A single
// loud click would do so too: the scale is at most peakRoom times the 80th percentile
// of the peaks of the sounds.
func (v *View) annotatedPeak(samples []float64, rate int) float64 {
	const peakRoom = 1.25
	peak := 0.0
	var sounds []float64
	for _, iv := range v.within(v.Reference.Intervals) {
		a, b := pcg.ToSamples(iv.Start-v.From, rate), pcg.ToSamples(iv.End-v.From, rate)
		magnitude := floats.Norm(samples[min(a, len(samples)):min(b, len(samples))], math.Inf(1))
		peak = max(peak, magnitude)
		if iv.State.IsSound() {
			sounds = append(sounds, magnitude)
		}
	}
	if peak == 0 {
		return floats.Norm(samples, math.Inf(1))
	}
	slices.Sort(sounds)
	if usual := peakRoom * signal.Quantile(sounds, 0.8); usual > 0 {
		return min(peak, usual)
	}
	return peak
}

// drawWave draws the range of the samples in each column one point wide, scaled
// to the annotated peak and clipped there.
func (v *View) drawWave(c *draw.Canvas, p *plot.Plot, l *strip) {
	_, y := p.Transforms(c)
	peak := v.annotatedPeak(v.Wave, v.WaveRate)
	middle, half := (l.low+l.top)/2, (l.top-l.low)/2
	at := func(s float64) vg.Length {
		if peak == 0 {
			return y(middle)
		}
		return y(middle + half*min(max(s/peak, -1), 1))
	}
	var line []vg.Point
	eachColumn(c, p, v.Wave, float64(v.WaveRate), v.From, func(x vg.Length, part []float64) {
		line = append(line, vg.Point{X: x, Y: at(slices.Min(part))}, vg.Point{X: x, Y: at(slices.Max(part))})
	})
	c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.7}, line)
}

// drawEnvelope draws the mean of the envelope in each column, scaled like the
// waveform.
func (v *View) drawEnvelope(c *draw.Canvas, p *plot.Plot, l *strip) {
	_, y := p.Transforms(c)
	var line []vg.Point
	peak := v.annotatedPeak(v.Envelope, v.EnvelopeRate)
	eachColumn(c, p, v.Envelope, float64(v.EnvelopeRate), v.From, func(x vg.Length, part []float64) {
		if peak > 0 {
			line = append(line, vg.Point{X: x, Y: y(l.low + (l.top-l.low)*min(stat.Mean(part, nil)/peak, 1))})
		}
	})
	c.StrokeLines(draw.LineStyle{Color: bluishGreen, Width: 1.3}, line)
}

// eachColumn calls visit with the samples of each column one point wide, from left
// to right. Columns without a sample are skipped.
func eachColumn(c *draw.Canvas, p *plot.Plot, samples []float64, rate float64, from time.Duration, visit func(x vg.Length, part []float64)) {
	span := p.X.Max - p.X.Min
	columns := int(c.Max.X - c.Min.X)
	index := func(column int) int {
		t := p.X.Min + span*float64(column)/float64(columns) - from.Seconds()
		return min(max(int(math.Round(t*rate)), 0), len(samples))
	}
	for i := range columns {
		if a, b := index(i), index(i+1); a < b {
			visit(c.Min.X+vg.Length(i)+0.5, samples[a:b])
		}
	}
}
