package report

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

var nothing = eval.Ratio(math.NaN())

// Shares of the annotated time by hand: S1 3, 1, 0 and 0 s and 1 s without a
// prediction, systole all right, no S2 at all, diastole half S2.
func TestConfusionFigure(t *testing.T) {
	f := confusionFigure(&eval.FrameSummary{
		States:    []string{"S1", "systole", "S2", "diastole"},
		Confusion: [4][4]float64{{3, 1, 0, 0}, {0, 2, 0, 0}, {}, {0, 0, 1, 1}},
		Missed:    [4]float64{1, 0, 0, 0},
	})
	s := sketchOf(t, f, axes{0, 5, 0, 4})
	cell := func(column, row float64) []point { // with a margin of a point
		return []point{s.at(column, 3-row, 1, 1), s.at(column+1, 3-row, -1, 1), s.at(column+1, 4-row, -1, -1), s.at(column, 4-row, 1, -1)}
	}
	for _, tt := range []struct {
		column, row float64
		opacity     string // 0.04 and 0.46 of the share, in steps of 1/255
	}{
		{0, 0, "0.31765"}, {1, 0, "0.13333"}, {2, 0, "0.039216"}, {3, 0, "0.039216"}, {4, 0, "0.13333"},
		{0, 1, "0.039216"}, {1, 1, "0.50196"}, {2, 3, "0.27059"}, {3, 3, "0.27059"}, {4, 3, "0.039216"},
	} {
		s.has(t, fmt.Sprintf("cell %v of row %v", tt.column, tt.row), "fill:#0071B1;fill-opacity:"+tt.opacity, cell(tt.column, tt.row)...)
	}
	if n := len(s.styled("fill-opacity")); n != 15 {
		t.Errorf("%d filled cells, want 15: those of S2 have no share", n)
	}
	for k := range 4 {
		frame := cell(float64(k), float64(k))
		s.has(t, "frame", "fill:none;stroke:var(--ink)", append(frame, frame[0])...)
	}
	for _, p := range s.paths {
		if len(p.points) == 5 && strings.Contains(p.style, "stroke-width") {
			t.Errorf("a frame has the style %s, want a width of 1", p.style)
		}
	}
	s.within(t, "60.0 %", 0, 3, 1, 4)
	s.within(t, "100.0 %", 1, 2, 2, 3)
	dashes := 0
	for _, l := range s.texts {
		if l.text == "– %" {
			dashes++
			if low, high := s.at(0, 1, 0, 0), s.at(0, 2, 0, 0); l.at.y < low.y || l.at.y > high.y {
				t.Errorf("a dash at %v, want it in the row of S2", l.at)
			}
		}
	}
	if dashes != 5 {
		t.Errorf("%d dashes, want 5", dashes)
	}
	for k, name := range []string{"S1", "systole", "S2", "diastole", "none"} { // below the columns and left of the rows
		for _, l := range s.texts {
			row, column := s.at(0, 3.5-float64(k), 0, 0), s.at(float64(k), 0, 0, 0)
			if l.text == name && !(l.at.x < s.left && math.Abs(l.at.y-row.y) < 8) && !(l.at.y < s.bottom && l.at.x > column.x && l.at.x < column.x+60) {
				t.Errorf("%s stands at %v", name, l.at)
			}
		}
	}
	const want = "Annotated S1: S1 60.0 %, systole 20.0 %, S2 0.0 %, diastole 0.0 %, none 20.0 %. Annotated systole: S1 0.0 %, systole 100.0 %, S2 0.0 %, diastole 0.0 %, none 0.0 %. " +
		"Annotated S2: S1 – %, systole – %, S2 – %, diastole – %, none – %. Annotated diastole: S1 0.0 %, systole 0.0 %, S2 50.0 %, diastole 50.0 %, none 0.0 %."
	if f.text != want {
		t.Errorf("text\n%s, want\n%s", f.text, want)
	}

	// Without time that is missed there is no fifth column.
	f = confusionFigure(&eval.FrameSummary{States: []string{"S1", "systole", "S2", "diastole"}, Confusion: [4][4]float64{{1}, {0, 1}, {0, 0, 1}, {0, 0, 0, 1}}})
	if s := sketchOf(t, f, axes{0, 4, 0, 4}); len(s.styled("fill-opacity:0.50196")) != 4 {
		t.Error("four right states, but not four dark cells")
	}
}

// Mean and difference by hand: (301, +2), (307.5, −5) and two of (304, +0.5), which
// would cover each other. The x axis has 3 % of its range aside, the y axis a fifth
// beyond the farther limit, 11.
func TestAgreementFigure(t *testing.T) {
	pairs := []pair{{300, 302}, {310, 305}, {303.75, 304.25}, {303.75, 304.25}}
	f := agreementFigure("x", "x", "ms", eval.Agreement{Recordings: 4, People: 3, Lower: -9, Upper: 11, Bias: 1}, pairs)
	s := sketchOf(t, f, axes{301 - 0.195, 307.5 + 0.195, -13.2, 13.2})
	rings := s.styled("stroke:#0071B1;stroke-opacity:0.85098")
	if len(rings) != 3 {
		t.Fatalf("%d rings, want 3", len(rings))
	}
	for i, want := range []point{s.at(301, 2, 2, 0), s.at(307.5, -5, 2, 0), s.at(304, 0.5, 2, 0)} { // begun at the right, 2 points aside
		if !rings[i][0].near(want) {
			t.Errorf("ring %d at %v, want %v", i, rings[i][0], want)
		}
	}
	s.has(t, "upper limit", "stroke:#D55E00;stroke-width:1.2;stroke-dasharray:5,3", s.at(300.805, 11, 0, 0), s.at(307.695, 11, 0, 0))
	s.has(t, "lower limit", "stroke:#D55E00;stroke-width:1.2;stroke-dasharray:5,3", s.at(300.805, -9, 0, 0), s.at(307.695, -9, 0, 0))
	s.has(t, "bias", "stroke:#D55E00;stroke-width:1.4", s.at(300.805, 1, 0, 0), s.at(307.695, 1, 0, 0))
	for text, at := range map[string]float64{"+1.96 SD: +11.0": 11, "bias: +1.0": 1, "-1.96 SD: -9.0": -9} {
		p, line := s.text(t, text), s.at(307.695, at, 0, 0)
		if above := p.y - line.y; at > 0 && (above < 1 || above > 5) || at < 0 && (above > -5 || above < -12) {
			t.Errorf("%q stands %.1f above its line", text, above)
		}
		if p.x > line.x || p.x < line.x-90 {
			t.Errorf("%q begins at %.1f, want it to end at %.1f", text, p.x, line.x)
		}
	}
	if want := "4 recordings of 3 people. Bias +1.0 ms, 95 % limits of agreement −9.0 to +11.0. Largest absolute difference: 5.0 ms."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}

	// Without limits no line is drawn; small differences are not called large.
	f = agreementFigure("x", "x", "ms", eval.Agreement{Lower: nothing, Upper: nothing, Bias: nothing}, []pair{{300, 300.25}})
	s = sketchOf(t, f, axes{300.125, 300.125, -1.2, 1.2})
	if n := len(s.styled("#D55E00")); n != 0 {
		t.Errorf("%d lines without limits", n)
	}
	if !strings.HasSuffix(f.text, "Largest absolute difference: 0.2 ms.") {
		t.Errorf("text %q", f.text)
	}
	sketchOf(t, agreementFigure("x", "x", "ms", eval.Agreement{Lower: nothing, Upper: nothing, Bias: nothing}, nil), axes{-0.03, 1.03, -1.2, 1.2})
}

// Recordings with too few cycles on one side are in neither figure.
func TestAgreementFiguresTakeBothSides(t *testing.T) {
	beat := func(cycle, systole time.Duration) eval.Beat { return eval.Beat{CycleLength: cycle, Systole: systole} }
	d := &Details{Recordings: []ScoredRecording{
		{Reference: beat(time.Second, 300*ms), Predicted: beat(750*ms, 310*ms)}, // 60 and 80 per minute
		{Reference: beat(0, 0), Predicted: beat(time.Second, 200*ms)},
		{Reference: beat(time.Second, 200*ms), Predicted: beat(0, 0)},
	}}
	null := eval.Agreement{Lower: nothing, Upper: nothing, Bias: nothing}
	list := agreementFigures(&eval.Summary{Statistics: eval.Statistics{Rates: eval.Rates{null, null}}}, d)
	for i, want := range []struct {
		name string
		axes axes
		text string
	}{
		{"rate-agreement", axes{70, 70, -24, 24}, "20.0 beats/min."},
		{"systole-agreement", axes{305, 305, -12, 12}, "10.0 ms."},
	} {
		s := sketchOf(t, list[i], want.axes)
		if n := len(s.styled("stroke:#0071B1")); list[i].name != want.name || n != 1 || !strings.HasSuffix(list[i].text, want.text) {
			t.Errorf("%s: %d rings, %s", list[i].name, n, list[i].text)
		}
	}
}

// The first place has four differences of 0 and two of +10 ms; the others have
// none. Its histogram is 35.2 points high.
func TestDeltaFigure(t *testing.T) {
	d := &Details{}
	for _, delta := range []time.Duration{0, 0, 0, 0, 10 * ms, 10 * ms} {
		d.places[0].add(delta)
	}
	for range 3 {
		d.places[5].add(-200 * ms) // in the outermost bin
	}
	summary := &eval.Summary{}
	summary.Rules.Anchor = eval.Centre
	summary.Timing = eval.Timing{
		{Place: "S1 onset", N: 6, P5: -4, P50: 2, P95: 130}, {Place: "S1 offset"}, {Place: "S2 onset"}, {Place: "S2 offset"},
		{Place: "S1 anchor (centre)"}, {Place: "S2 anchor (centre)"},
	}
	f := deltaFigure(summary, d)
	s := sketchOf(t, f, axes{-120, 120, 0, 6})
	if f.height != 6*44+44 {
		t.Errorf("%v high", f.height)
	}
	s.has(t, "base of S1 onset", "stroke:var(--ink);stroke-width:0.5", s.at(-120, 5, 0, 0), s.at(120, 5, 0, 0))
	s.has(t, "base of S2 anchor", "stroke:var(--ink);stroke-width:0.5", s.at(-120, 0, 0, 0), s.at(120, 0, 0, 0))
	outlines := s.styled("fill:none;stroke:#0072B2;stroke-width:0.9")
	if len(outlines) != 1 {
		t.Fatalf("%d outlines of S1, want 1", len(outlines))
	}
	highest, second := s.at(0, 5, 0, 35.2).y, s.at(0, 5, 0, 17.6).y
	for _, p := range outlines[0] {
		value := s.axes.left + (p.x-s.left)/(s.right-s.left)*240
		want := []float64{s.at(0, 5, 0, 0).y}
		switch { // the corners of a bar belong to two heights
		case math.Abs(value+2.5) < 0.1, math.Abs(value-2.5) < 0.1:
			want = append(want, highest)
		case math.Abs(value-7.5) < 0.1, math.Abs(value-12.5) < 0.1:
			want = append(want, second)
		}
		ok := false
		for _, y := range want {
			ok = ok || math.Abs(p.y-y) < 0.02
		}
		if !ok {
			t.Errorf("the outline has %v at %.1f ms, want one of %v", p.y, value, want)
		}
	}
	for _, want := range []point{s.at(-2.5, 5, 0, 35.2), s.at(2.5, 5, 0, 35.2), s.at(7.5, 5, 0, 17.6), s.at(12.5, 5, 0, 17.6)} {
		found := false
		for _, p := range outlines[0] {
			found = found || p.near(want)
		}
		if !found {
			t.Errorf("the outline does not lead over %v", want)
		}
	}
	if n := len(s.styled("stroke:#D55E00;stroke-width:0.9;stroke-dasharray:6,2")); n != 1 {
		t.Errorf("%d dashed outlines of S2, want 1", n)
	}
	s.has(t, "quantiles, cut at the end of the axis", "stroke:var(--ink);stroke-width:1.2", s.at(-4, 5, 0, 4), s.at(120, 5, 0, 4))
	if n := len(s.styled("stroke-width:1.2")); n != 1 {
		t.Errorf("%d bars of quantiles, want 1: the others have no pairs", n)
	}
	var medians [][]point // filled with the colour of text, which the style sheet gives
	for _, p := range s.paths {
		if p.style == "" {
			medians = append(medians, p.points)
		}
	}
	if len(medians) != 1 || math.Abs(medians[0][0].x-s.at(2, 0, 0, 0).x) > 0.02 {
		t.Errorf("medians %v, want one with its top at %v", medians, s.at(2, 5, 0, 4))
	}
	for text, row := range map[string]float64{"S1 onset": 5.25, "S2 centre": 0.25} {
		if p := s.text(t, text); math.Abs(p.y-s.at(0, row, 0, 0).y) > 6 || p.x > s.left {
			t.Errorf("%q stands at %v", text, p)
		}
	}
	for text, at := range map[string]float64{"-120": -120, "-40": -40, "0": 0, "+80": 80} {
		if p := s.text(t, text); math.Abs(p.x-s.at(at, 0, 0, 0).x) > 15 || p.y > s.bottom {
			t.Errorf("%q stands at %v", text, p)
		}
	}
	if want := "S1 onset: median +2.0 ms, 5 % −4.0, 95 % +130.0, 6 pairs."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
}

// A row has its interval with ends of 6 points and its symbol at the estimate; one
// without an interval has the symbol alone, one without an estimate nothing.
func TestIntervalFigure(t *testing.T) {
	rows := []intervalRow{
		{label: "all", estimate: 0.95, low: 0.834, high: 1, style: styleOf(1)},
		{label: "sex:", heading: true, estimate: 0.1, low: 0.1},
		{label: "female", estimate: 0.9, low: nothing, high: nothing, style: styleOf(0)},
		{label: "of a name that is much too long to stand here", estimate: nothing, low: 0.81, high: nothing, style: styleOf(0)},
	}
	f := intervalFigure("x", "x", rows)
	s := sketchOf(t, f, axes{80, 100, -3.5, 0.5})
	if f.height != 4*13+46 {
		t.Errorf("%v high", f.height)
	}
	const bar = "stroke:#D55E00;stroke-width:1.4"
	s.has(t, "interval", bar, s.at(83.4, 0, 0, 0), s.at(100, 0, 0, 0))
	s.has(t, "lower end", bar, s.at(83.4, 0, 0, -3), s.at(83.4, 0, 0, 3))
	s.has(t, "upper end", bar, s.at(100, 0, 0, -3), s.at(100, 0, 0, 3))
	if n := len(s.styled("stroke-width:1.4")); n != 3 {
		t.Errorf("%d lines of intervals, want 3", n)
	}
	s.has(t, "heading", "stroke:var(--rule);stroke-width:0.8", s.at(80, -1.5, 0, 0), s.at(100, -1.5, 0, 0))
	squares := s.styled("fill:#D55E00") // a square around the estimate
	if len(squares) != 1 || !centre(squares[0]).near(s.at(95, 0, 0, 0)) {
		t.Errorf("squares %v, want one around %v", squares, s.at(95, 0, 0, 0))
	}
	circles := s.styled("fill:#0072B2")
	if want := s.at(90, -2, 3.2, 0); len(circles) != 1 || !circles[0][0].near(want) {
		t.Errorf("circles %v, want one begun at %v", circles, want)
	}
	for text, row := range map[string]float64{"all": 0, "sex:": -1, "female": -2, "of a name that is much too …": -3} {
		if p := s.text(t, text); math.Abs(p.y-s.at(0, row, 0, 0).y) > 6 || p.x > s.left {
			t.Errorf("%q stands at %v", text, p)
		}
	}
	for _, text := range []string{"80", "90", "100"} {
		s.text(t, text)
	}
	for low, left := range map[eval.Ratio]float64{0.34: 20, 0.5: 50, 0.499: 40, 0.02: 0, 1: 100} { // wider than 50, in steps of 20
		if got := intervalFigure("x", "x", []intervalRow{{estimate: 1, low: low, high: 1}}).plot.X.Min; got != left {
			t.Errorf("with a lower end of %v the axis begins at %v, want %v", low, got, left)
		}
	}
}

// centre returns the mean of the corners of a closed or open polygon.
func centre(points []point) point {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range points {
		x0, x1, y0, y1 = min(x0, p.x), max(x1, p.x), min(y0, p.y), max(y1, p.y)
	}
	return point{(x0 + x1) / 2, (y0 + y1) / 2}
}

// scores returns a summary with the given pooled scores at the centre.
func scores(list ...eval.Score) *eval.Summary {
	s := &eval.Summary{}
	s.Rules.Anchor, s.Rules.HeadlineMS, s.Rules.TolerancesMS = eval.Centre, 60, []float64{20, 25, 30, 60, 100}
	s.HeadlineRow = eval.Score{F1: 0.9, Low: 0.8, High: nothing, People: 7}
	for _, row := range list {
		row.Anchor, row.Aggregate = eval.Centre, eval.Pooled
		s.Scores = append(s.Scores, row)
	}
	return s
}

// Curves lead over 100 times F1; a tolerance without a score is left out. The band
// is that of both sounds.
func TestToleranceFigure(t *testing.T) {
	s := scores(
		eval.Score{Class: eval.Both, ToleranceMS: 20, F1: 0.5, Low: 0.4, High: 0.6},
		eval.Score{Class: eval.Both, ToleranceMS: 60, F1: 0.75, Low: 0.7, High: 0.8},
		eval.Score{Class: eval.Both, ToleranceMS: 100, F1: nothing, Low: nothing, High: nothing},
		eval.Score{Class: eval.S1, ToleranceMS: 60, F1: 0.625, Low: nothing, High: nothing},
		eval.Score{Class: eval.S1, ToleranceMS: 100, F1: 0.875, Low: nothing, High: nothing},
	)
	f := toleranceFigure([]Run{{Name: "r", Summary: s}})
	p := sketchOf(t, f, axes{0, 100, 30, 100})
	p.has(t, "both", "fill:none;stroke:#0072B2;stroke-width:1.6", p.at(20, 50, 0, 0), p.at(60, 75, 0, 0))
	p.has(t, "S1", "fill:none;stroke:#D55E00;stroke-width:1.6;stroke-dasharray:6,2", p.at(60, 62.5, 0, 0), p.at(100, 87.5, 0, 0))
	p.has(t, "band", "fill:#0071B1;fill-opacity:0.18039", p.at(20, 60, 0, 0), p.at(60, 80, 0, 0), p.at(60, 70, 0, 0), p.at(20, 40, 0, 0))
	if n := len(p.styled("fill-opacity")); n != 1 {
		t.Errorf("%d bands, want 1", n)
	}
	for _, text := range []string{"both", "S1", "tolerance, ms before and after the centre", "20"} {
		p.text(t, text)
	}
	for _, l := range p.texts {
		if l.text == "25" || l.text == "S2" {
			t.Errorf("%q has no place here", l.text)
		}
	}
	if want := "both: 50.0 % at 20 ms (40.0 to 60.0); 75.0 % at 60 ms (70.0 to 80.0); S1: 62.5 % at 60 ms; 87.5 % at 100 ms; The band is the 95 % interval; the headline tolerance is 60 ms."; f.text != want {
		t.Errorf("text\n%s, want\n%s", f.text, want)
	}

	// Of two runs, each has a curve of both sounds and a band.
	other := scores(eval.Score{Class: eval.Both, ToleranceMS: 20, F1: 0.9, Low: 0.85, High: 0.95}, eval.Score{Class: eval.Both, ToleranceMS: 60, F1: 0.92, Low: 0.9, High: 1})
	f = toleranceFigure([]Run{{Name: "a", Summary: s}, {Name: "b", Summary: other}})
	p = sketchOf(t, f, axes{0, 60, 30, 100})
	p.has(t, "second run", "stroke:#D55E00;stroke-width:1.6;stroke-dasharray:6,2", p.at(20, 90, 0, 0), p.at(60, 92, 0, 0))
	p.has(t, "second band", "fill:#D45D00;fill-opacity:0.18039", p.at(20, 95, 0, 0), p.at(60, 100, 0, 0), p.at(60, 90, 0, 0), p.at(20, 85, 0, 0))
}

func TestToleranceTicks(t *testing.T) {
	ticks := toleranceTicks([]float64{20, 25, 30, 39, 40})
	var labels []string
	for _, tick := range ticks {
		labels = append(labels, fmt.Sprintf("%g=%s", tick.Value, tick.Label))
	}
	if got := strings.Join(labels, " "); got != "20=20 25= 30=30 39= 40=40" {
		t.Errorf("ticks %s", got)
	}
}

// Strata with an F1 stand below their label, each with its people; the others are
// left out. Without any there is no figure.
func TestStrataFigure(t *testing.T) {
	if f := strataFigure(scores()); f != nil {
		t.Error("a figure of no strata")
	}
	s := scores(
		eval.Score{Class: eval.Both, ToleranceMS: 60, Stratum: "age_group=child", F1: 0.7, Low: 0.6, High: 0.9, People: 5},
		eval.Score{Class: eval.Both, ToleranceMS: 60, Stratum: "age_group=adult", F1: nothing, Low: nothing, High: nothing, People: 2},
	)
	f := strataFigure(s)
	if f == nil {
		t.Fatal("no figure")
	}
	p := sketchOf(t, f, axes{60, 100, -2.5, 0.5})
	for text, row := range map[string]float64{"all recordings (7)": 0, "age group:": -1, "child (5)": -2} {
		if at := p.text(t, text); math.Abs(at.y-p.at(0, row, 0, 0).y) > 6 {
			t.Errorf("%q stands at %v", text, at)
		}
	}
	p.has(t, "interval of children", "stroke:#0072B2;stroke-width:1.4", p.at(60, -2, 0, 0), p.at(90, -2, 0, 0))
	if want := "All: 90.0 %. age group child: 70.0 % (60.0 to 90.0), 5 people."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
}

// The view from 1 to 3 s: its lines begin at 1 s, parts outside are cut, and a
// sound of S2 is lower than one of S1.
func TestViewFigure(t *testing.T) {
	v := View{
		Recording: "r", From: time.Second, To: 3 * time.Second, id: "v",
		Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: []pcg.Interval{
			{Start: 500 * ms, End: 1200 * ms, State: pcg.S1}, {Start: 1200 * ms, End: 1500 * ms, State: pcg.Systole},
			{Start: 1500 * ms, End: 1750 * ms, State: pcg.S2}, {Start: 1750 * ms, End: 3500 * ms, State: pcg.Diastole},
		}},
		Tracks: []Track{{Name: "a method of 21 letters", Intervals: []pcg.Interval{{Start: 2 * time.Second, End: 2100 * ms, State: pcg.S1}}}},
	}
	f := v.figure()
	s := sketchOf(t, f, axes{1, 3, 0, 55}) // two strips of 24 with 7 between them
	if f.height != 95 {
		t.Errorf("%v high", f.height)
	}
	box := func(x0, x1, y0, y1 float64) []point {
		return []point{s.at(x0, y0, 0, 0), s.at(x1, y0, 0, 0), s.at(x1, y1, 0, 0), s.at(x0, y1, 0, 0)}
	}
	s.has(t, "S1 of the reference", `fill:#0072B2`, box(1, 1.2, 31, 55)...)
	s.has(t, "S2 of the reference, with 18 % of the height aside", `fill:#D55E00`, box(1.5, 1.75, 31+4.32, 55-4.32)...)
	s.has(t, "S1 of the method", `fill:#0072B2`, box(2, 2.1, 0, 24)...)
	s.has(t, "shade of S1", "fill:#0071B1;fill-opacity:0.12941", box(1, 1.2, 0, 55)...)
	s.has(t, "shade of S2", "fill:#D45D00;fill-opacity:0.12941", box(1.5, 1.75, 0, 55)...)
	s.has(t, "systole", "stroke:var(--ink);stroke-width:1.2", s.at(1.2, 43, 0, 0), s.at(1.5, 43, 0, 0))
	s.has(t, "diastole", "stroke:var(--ink);stroke-width:1.2;stroke-dasharray:1.5,2.5", s.at(1.75, 43, 0, 0), s.at(3, 43, 0, 0))
	for text, y := range map[string]float64{"reference": 43, "a method of 21 le…": 12} {
		if at := s.text(t, text); math.Abs(at.y-s.at(1, y, 0, 0).y) > 6 || at.x > s.left {
			t.Errorf("%q stands at %v", text, at)
		}
	}
	if want := "1.0 to 3.0 s of the recording. reference: 1 S1 and 1 S2. a method of 21 letters: 1 S1 and 0 S2."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
}

// Points have the height of their sound: all of a strip of 24 for S1, 60 % for S2.
func TestPointsOfAView(t *testing.T) {
	v := View{From: time.Second, To: 3 * time.Second, id: "v", Reference: pcg.Reference{Kind: pcg.PointReference, Points: []pcg.Point{
		{At: 900 * ms, Sound: pcg.S1}, {At: time.Second, Sound: pcg.S1}, {At: 1500 * ms, Sound: pcg.S2}, {At: 3 * time.Second, Sound: pcg.S1},
	}}}
	f := v.figure()
	s := sketchOf(t, f, axes{1, 3, 0, 24})
	s.has(t, "S1", "stroke:#0072B2;stroke-width:2", s.at(1, 0, 0, 0), s.at(1, 24, 0, 0))
	s.has(t, "S2", "stroke:#D55E00;stroke-width:2", s.at(1.5, 0, 0, 0), s.at(1.5, 14.4, 0, 0))
	if n := len(s.styled("stroke-width:2")); n != 2 {
		t.Errorf("%d points, want 2 of 4", n)
	}
	if want := "1.0 to 3.0 s of the recording. reference: 1 S1 and 1 S2."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
	const states = `[{"name":"reference","states":[[0,40,"S1"],[460,540,"S2"],[1960,2000,"S1"]]}]`
	if got := v.playerStates(); got != states {
		t.Errorf("states %s, want %s", got, states)
	}
}

// A ramp from −1 to 1 rises over the strip of the waveform, 82 points, and its
// magnitude over that of the envelope, 52.
func TestWaveOfAView(t *testing.T) {
	v := View{From: 0, To: 2 * time.Second, id: "v", Sound: Sound{WaveRate: 1000, EnvelopeRate: 1000}}
	for i := range 2000 {
		v.Wave = append(v.Wave, float64(i)/1000-1)
		v.Envelope = append(v.Envelope, 0.5)
	}
	v.Envelope[1999] = 1
	f := v.figure()
	s := sketchOf(t, f, axes{0, 2, 0, 249}) // 24, 52, 70 and 82, with 7 between them
	waves := s.styled("stroke:var(--ink);stroke-width:0.7")
	if len(waves) != 1 {
		t.Fatalf("%d waveforms", len(waves))
	}
	wave := waves[0]
	columns := int(s.right - s.left)
	if len(wave) != 2*columns {
		t.Errorf("%d points in %d columns", len(wave), columns)
	}
	first, last := wave[0], wave[len(wave)-1]
	if want := (point{s.left + 0.5, s.at(0, 167, 0, 0).y}); !first.near(want) { // −1 at the bottom of the strip
		t.Errorf("the waveform begins at %v, want %v", first, want)
	}
	if want := (point{s.left + float64(columns) - 0.5, s.at(0, 208+41*0.999, 0, 0).y}); !last.near(want) {
		t.Errorf("the waveform ends at %v, want %v", last, want)
	}
	for i := 2; i < len(wave); i += 2 {
		if wave[i].y < wave[i-1].y || wave[i].x != wave[i+1].x {
			t.Fatalf("point %d at %v after %v", i, wave[i], wave[i-1])
		}
	}
	envelopes := s.styled("stroke:#009E73;stroke-width:1.3")
	if len(envelopes) != 1 || len(envelopes[0]) != columns || !envelopes[0][0].near(point{s.left + 0.5, s.at(0, 31+26, 0, 0).y}) {
		t.Errorf("envelope %v, want it to begin at %v", envelopes, s.at(0, 57, 0.5, 0))
	}
}

// Two cycles of 100, 200, 100 and 200 ms, 100 ms apart, the second twice as loud.
func TestAverageCycleFigure(t *testing.T) {
	var cycle pcg.CycleTimes
	list := []pcg.CycleTimes{cycle, cycle}
	for k, at := range []time.Duration{0, 100 * ms, 300 * ms, 400 * ms, 600 * ms} {
		list[0][k], list[1][k] = at, at+700*ms
	}
	x := make([]float64, 1300)
	for i := range x {
		x[i] = 1
		if i >= 650 {
			x[i] = 2
		}
	}
	a := newAverageCycle(list, &Sound{Wave: x, Envelope: x, WaveRate: 1000, EnvelopeRate: 1000})
	if a.length() != 600*ms || len(a.mean) != 300 || len(a.wave) != 1200 {
		t.Fatalf("%v long, %d and %d values", a.length(), len(a.mean), len(a.wave))
	}
	f := a.figure("average", "Average cycle", 0, 560)
	s := sketchOf(t, f, axes{0, 600, 0, 224})
	height := func(value float64) float64 { // of the envelope: 96 is the highest 90th percentile, 1.9 of a mean of 1.5
		return 96 * value / 1.9
	}
	means := s.styled("fill:none;stroke:#009E73;stroke-width:2")
	if len(means) != 1 || len(means[0]) != 300 || !means[0][0].near(s.at(0, height(1.5), 0, 0)) || !means[0][100].near(s.at(200, height(1.5), 0, 0)) {
		t.Errorf("mean envelope %v, want it at %v", means[0][:2], s.at(0, height(1.5), 0, 0))
	}
	bands := s.styled("fill:#009D72;fill-opacity:0.30196")
	if len(bands) != 1 || len(bands[0]) != 600 || !bands[0][0].near(s.at(0, 96, 0, 0)) || !bands[0][599].near(s.at(0, height(1.1), 0, 0)) {
		t.Errorf("band from %v to %v, want from %v to %v", bands[0][0], bands[0][599], s.at(0, 96, 0, 0), s.at(0, height(1.1), 0, 0))
	}
	box := func(x0, x1 float64) []point {
		return []point{s.at(x0, 0, 0, 0), s.at(x1, 0, 0, 0), s.at(x1, 224, 0, 0), s.at(x0, 224, 0, 0)}
	}
	s.has(t, "S1", "fill:#0071B1;fill-opacity:0.16078", box(0, 100)...)
	s.has(t, "S2", "fill:#D45D00;fill-opacity:0.16078", box(300, 400)...)
	for _, at := range []float64{100, 300, 400} {
		s.has(t, "border of states", "stroke:var(--ink);stroke-width:0.8;stroke-dasharray:2,2", s.at(at, 0, 0, 0), s.at(at, 224, 0, 0))
	}
	if n := len(s.styled("stroke-dasharray:2,2")); n != 3 {
		t.Errorf("%d borders, want 3", n)
	}
	waves := s.styled("stroke:var(--ink);stroke-width:0.9")
	if len(waves) != 1 {
		t.Fatalf("styles %q", s.styles())
	}
	if !waves[0][0].near(s.at(0, 200, 0, 0)) { // constant, at its peak
		t.Errorf("waveform at %v, want %v", waves[0][0], s.at(0, 200, 0, 0))
	}
	for text, middle := range map[string]float64{"S1": 50, "systole": 200, "S2": 350, "diastole": 500} {
		if at := s.text(t, text); math.Abs(at.x-s.at(middle, 0, 0, 0).x) > 40 || at.y < s.at(0, 200, 0, 0).y {
			t.Errorf("%q stands at %v", text, at)
		}
	}
	if want := "Average of 2 cycles: S1 100 ms, systole 200 ms, S2 100 ms, diastole 200 ms, cycle 600 ms."; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
}

// Series differ in symbol, and in colour or dash, and begin again after the eighth.
func TestSeriesStyles(t *testing.T) {
	for i, want := range []string{"#0072B2 []", "#D55E00 [6 2]", "#009E73 [2 2]", "#CC79A7 [8 2 2 2]", "#000000 [1 3]", "#0072B2 [4 2 1 2]", "#D55E00 []", "#009E73 [10 3]", "#0072B2 []"} {
		s := styleOf(i)
		if got := fmt.Sprintf("#%02X%02X%02X %v", s.colour.R, s.colour.G, s.colour.B, s.dash); got != want || s.colour.A != 255 {
			t.Errorf("series %d: %s, want %s", i, got, want)
		}
	}
	if s := styleOf(2).line(1.5); s.Width != 1.5 || len(s.Dashes) != 2 || s.Color != styleOf(2).colour {
		t.Errorf("line %+v", s)
	}
	if g := styleOf(2).glyph(2.5); g.Radius != 2.5 || g.Color != styleOf(2).colour || g.Shape == nil {
		t.Errorf("glyph %+v", g)
	}
	for state, want := range map[pcg.State]any{pcg.S1: blue, pcg.S2: vermillion, pcg.Systole: ink, pcg.Diastole: ink} {
		if got := stateColour(state); got != want {
			t.Errorf("%v: %v, want %v", state, got, want)
		}
	}
}

// Between two samples lies the line through them, and beyond the ends the last value.
func TestValueAt(t *testing.T) {
	for _, tt := range []struct {
		x        []float64
		at, want float64
	}{
		{nil, 1, 0}, {[]float64{3}, 0, 3}, {[]float64{3}, 5, 3}, {[]float64{2, 4}, -1, 2}, {[]float64{2, 4}, 0, 2},
		{[]float64{2, 4}, 0.25, 2.5}, {[]float64{2, 4}, 1, 4}, {[]float64{2, 4, 9}, 1.5, 6.5}, {[]float64{2, 4, 9}, 7, 9},
	} {
		if got := valueAt(tt.x, tt.at); got != tt.want {
			t.Errorf("%v at %v: %v, want %v", tt.x, tt.at, got, tt.want)
		}
	}
}

func TestPrintedNumbers(t *testing.T) {
	for _, tt := range []struct{ got, want string }{
		{bounds(0.5, 0.75), "50.0 to 75.0"}, {bounds(nothing, 0.5), "–"}, {bounds(0.5, nothing), "–"},
		{inParentheses(0.5, 0.75), " (50.0 to 75.0)"}, {inParentheses(nothing, 0.75), ""}, {inParentheses(0.75, nothing), ""},
		{signed(2.26), "+2.3"}, {signed(-2.26), "\u22122.3"}, {signed(nothing), "–"},
		{shorten("abc", 3), "abc"}, {shorten("abcd", 3), "ab…"}, {shorten("äöüß", 3), "äö…"},
	} {
		if tt.got != tt.want {
			t.Errorf("%q, want %q", tt.got, tt.want)
		}
	}
	if got := milliseconds(1500 * time.Microsecond); got != 1.5 {
		t.Errorf("%v ms", got)
	}
}

// Ticks stand at every step from the first value on, the last included.
func TestTicksEvery(t *testing.T) {
	var got []string
	for _, tick := range ticksEvery(20, 50, 10, "%.0f") {
		got = append(got, tick.Label)
	}
	if strings.Join(got, " ") != "20 30 40 50" || len(ticksEvery(0, 0.9, 1, "%g")) != 1 || len(ticksEvery(0, 0.3, 0.1, "%g")) != 4 {
		t.Errorf("ticks %v", got)
	}
}

// The most typical cycle is the one whose envelope is most like the mean.
func TestMostTypicalCycle(t *testing.T) {
	a := &averageCycle{mean: []float64{0, 1, 2, 3}}
	for _, tt := range []struct {
		rows [][]float64
		want int
	}{
		{[][]float64{{3, 2, 1, 0}, {0, 1, 2, 2.9}, {0, 1, 2, 1}}, 1},
		{[][]float64{{1, 1, 1, 1}, {3, 2, 1, 0}}, 1}, // the first has no correlation
		{[][]float64{{1, 1, 1, 1}, {2, 2, 2, 2}}, 0},
	} {
		if got := a.mostTypical(tt.rows); got != tt.want {
			t.Errorf("%v: %d, want %d", tt.rows, got, tt.want)
		}
	}
}

// What the details of a run count, by hand: one reference sound found 10 ms late, one
// missed, one false.
func TestDetailsOfARecording(t *testing.T) {
	rules := eval.DefaultRules()
	result := eval.Result{
		Recording: "r", Person: "p",
		Counts: []eval.Count{
			{Class: eval.S1, Anchor: rules.Anchor, Tolerance: rules.Headline, TP: 1, FP: 2, FN: 3},
			{Class: eval.S2, Anchor: rules.Anchor, Tolerance: rules.Headline, TP: 10, FP: 20, FN: 30},
			{Class: eval.S1, Anchor: eval.Onset, Tolerance: rules.Headline, TP: 100, FP: 100, FN: 100},
			{Class: eval.S1, Anchor: rules.Anchor, Tolerance: 2 * rules.Headline, TP: 100, FP: 100, FN: 100},
		},
		Matches: []eval.Match{
			{Class: eval.S2, Source: eval.FromReference, Outcome: eval.TruePositive, Delta: 10 * ms, HasOnset: true, OnsetDelta: -20 * ms},
			{Class: eval.S1, Source: eval.FromReference, Outcome: eval.TruePositive, Delta: 5 * ms, HasOffset: true, OffsetDelta: 30 * ms},
			{Class: eval.S1, Source: eval.FromReference, Outcome: eval.FalseNegative, Delta: 99 * ms, HasOnset: true},
			{Class: eval.S1, Source: eval.FromPrediction, Outcome: eval.TruePositive, Delta: 99 * ms},
		},
	}
	d := &Details{}
	d.Add(&result, &rules)
	excluded := eval.Result{Status: eval.Excluded}
	d.Add(&excluded, &rules)
	failed := eval.Result{Recording: "f", Status: eval.Failed}
	d.Add(&failed, &rules)
	if len(d.Recordings) != 2 || d.Recordings[0].Failed || !d.Recordings[1].Failed {
		t.Fatalf("%+v", d.Recordings)
	}
	if s := d.Recordings[0]; s.TP != 11 || s.FP != 22 || s.FN != 33 || s.Events != 3 || s.Person != "p" || s.F1() != eval.F1(11, 22, 33) {
		t.Errorf("%+v", s)
	}
	for place, want := range []struct{ n, bin int }{{0, 0}, {1, 6}, {1, -4}, {0, 0}, {1, 1}, {1, 2}} {
		h := &d.places[place]
		if h.n != want.n || want.n > 0 && h.bins[binsAside+want.bin] != 1 {
			t.Errorf("%s: %d differences, %v", placeNames[place], h.n, h.bins)
		}
	}
}
