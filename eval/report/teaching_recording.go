package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
)

// shownRecording is a recording as a teaching page shows it.
type shownRecording struct {
	*TeachingRecording
	Letter  string // A for the first recording; empty where the page has one and names it
	Hidden  bool   // its name is, until the reader asks
	Player  player
	Answer  template.HTML     // of a worksheet: the figure with the states
	Average *averageCycle     // nil without a whole cycle
	Drawn   template.HTML     // the average cycle
	Rate    string            // beats per minute; empty without a whole cycle
	Words   map[string]string // what is measured of each state

	// Height of the envelope in the middle of systole and of diastole, in percent of
	// the louder sound.
	InSystole, InDiastole string
}

// shown returns the recording with index i, whose whole cycles are given.
func (p *TeachingPage) shown(i int, cycles []pcg.CycleTimes) (shownRecording, error) {
	r := &p.Recordings[i]
	t := shownRecording{TeachingRecording: r, Hidden: p.Quiz, Average: newAverageCycle(cycles, &r.Sound)}
	if len(p.Recordings) > 1 || p.Quiz || p.Sheet {
		t.Letter = string(rune('A' + i))
	}
	if t.Average != nil {
		t.Rate = fmt.Sprintf("%.0f", rateOf(cycles))
		t.Words = t.Average.words()
		t.InSystole, t.InDiastole = fmt.Sprintf("%.0f", 100*t.Average.middle(1)), fmt.Sprintf("%.0f", 100*t.Average.middle(3))
	}
	v := p.view(i, t.Letter)
	f := v.figure()
	p.fit(f, &v)
	overlay := ""
	switch {
	case p.Sheet:
		t.Player.Drawn = f.svg("")
		answer, whole := *f, v
		whole.statesApart = false
		answer.name, answer.text = "answer-"+f.name, whole.text()
		t.Answer = answer.svg(v.stateLayer(f))
		return t, nil
	case p.Quiz:
		overlay = `<g class="answer">` + v.stateLayer(f) + `</g>`
	}
	var err error
	t.Player, err = playerOf(&v, f, overlay)
	return t, err
}

// Name is what figures call the recording.
func (t *shownRecording) Name() string { return cmp.Or(t.Letter, t.Recording) }

// view returns the stretch of a recording.
func (p *TeachingPage) view(i int, letter string) View {
	r := &p.Recordings[i]
	v := View{
		Recording: r.Recording, From: r.From, To: r.To, Sound: r.Sound.Between(r.From, r.To), ECG: r.ECG.Between(r.From, r.To),
		Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: r.States}, StatesName: "state",
		id: fmt.Sprintf("stretch-%d", i+1), statesApart: p.Quiz || p.Sheet, noSpectrogram: p.Sheet,
	}
	if v.statesApart {
		v.Recording = letter
	}
	if len(p.Recordings) > 1 || p.Sheet {
		v.Envelope = nil // for room; the figure of the average cycle has it
	}
	return v
}

// Heights of the figures of a worksheet, of all together and of one at most, in
// points where a figure is 720 wide.
const (
	sheetHeight       = 290
	sheetFigureHeight = 260
)

// fit gives a figure the time axis and the height that it has in the page, and in a
// worksheet lines at every tenth of a second to measure by and an edge of the row for
// the states.
func (p *TeachingPage) fit(f *figure, v *View) {
	axis, n := &f.plot.X, len(p.Recordings)
	axis.Max = max(v.To, v.From+p.Stretch).Seconds()
	axis.Tick.Marker = ticksEvery(math.Ceil(axis.Min), axis.Max, 1, "%.0f")
	if n > 1 || p.Sheet {
		axis.Label.Text = ""
		axis.Tick.Marker = ticksEvery(math.Ceil(axis.Min), axis.Max, 1, "%.0f s")
	}
	if !p.Sheet {
		if n > 1 {
			f.height *= vg.Length(1.1 - 0.12*float64(n)) // so that three fit on a screen
		}
		return
	}
	f.height = vg.Length(min(sheetHeight/n, sheetFigureHeight))
	tenths := ticksEvery(math.Ceil(10*axis.Min)/10, axis.Max, 0.1, "")
	strips, _ := v.strips()
	f.plot.Add(plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		thin := draw.LineStyle{Color: gridColour, Width: 0.3}
		for _, t := range tenths {
			c.StrokeLine2(thin, x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
		}
		edge := y(strips[0].top + 2)
		c.StrokeLine2(thin, c.Min.X, edge, c.Max.X, edge)
	}))
}

// Widths of the figure of an average cycle in points. Figures that stand beside one
// another are narrow, so that their text stays legible.
const (
	averageWidth          = 560
	averageWidthOfSeveral = 400
)

// drawAverages draws the average cycles on one time axis.
func (p *TeachingPage) drawAverages(shown []shownRecording) {
	var longest time.Duration
	for _, t := range shown {
		if t.Average != nil {
			longest = max(longest, t.Average.length())
		}
	}
	width := vg.Length(averageWidth)
	if len(shown) > 1 {
		width = averageWidthOfSeveral
	}
	for i, t := range shown {
		if t.Average != nil {
			shown[i].Drawn = t.Average.figure(fmt.Sprintf("average-%d", i+1), "Average cycle of recording "+t.Name(), longest, width).svg("")
		}
	}
}
