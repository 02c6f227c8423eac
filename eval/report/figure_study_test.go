package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval"
)

// studyCell is a cell with a score.
func studyCell(column, method, condition string, f1, low, high, cost eval.Ratio) eval.StudyCell {
	return eval.StudyCell{
		ID: column + "/" + method + "/" + condition, Column: column, Method: method, Condition: condition, Digest: "digest", Cost: cost,
		Headline: eval.Scores{{Class: eval.Both, ToleranceMS: 60, F1: f1, Low: low, High: high}},
	}
}

// Two methods at 0 and 10 dB; the audio as it is stands half of this span further.
func TestNoiseFigure(t *testing.T) {
	s := &eval.Study{Header: eval.StudyHeader{Methods: []string{"peaks", "hmm", "none"}, Conditions: []string{"", "noise=pink,snr=10", "noise=pink,snr=0"}}, Cells: []eval.StudyCell{
		studyCell("x", "peaks", "", 0.9, 0.8, 0.95, 1), studyCell("x", "peaks", "noise=pink,snr=0", 0.5, 0.45, 0.6, 1), studyCell("x", "peaks", "noise=pink,snr=10", 0.7, nothing, nothing, 1),
		studyCell("x", "hmm", "", 0.92, 0.9, 1, 1), studyCell("x", "hmm", "noise=pink,snr=0", nothing, nothing, nothing, 1), studyCell("x", "hmm", "noise=pink,snr=10", 0.75, 0.7, 0.8, 1),
		studyCell("other", "none", "", 0.1, 0.1, 0.1, 1),
	}}
	series, _ := s.Header.NoiseSeries()
	f := noiseFigure(s, "x", "1", series[0])
	p := sketchOf(t, f, axes{0, 15 / (1 - labelShare), 40, 100})
	p.has(t, "peaks", "fill:none;stroke:#0072B2;stroke-width:1.4", p.at(0, 50, 0, 0), p.at(10, 70, 0, 0), p.at(15, 90, 0, 0))
	p.has(t, "hmm", "fill:none;stroke:#D55E00;stroke-width:1.4;stroke-dasharray:6,2", p.at(10, 75, 0, 0), p.at(15, 92, 0, 0))
	p.has(t, "band of peaks, without the point that has none", "fill:#0071B1;fill-opacity:0.12157", p.at(0, 60, 0, 0), p.at(15, 95, 0, 0), p.at(15, 80, 0, 0), p.at(0, 45, 0, 0))
	p.has(t, "band of hmm", "fill:#D45D00;fill-opacity:0.12157", p.at(10, 80, 0, 0), p.at(15, 100, 0, 0), p.at(15, 90, 0, 0), p.at(10, 70, 0, 0))
	for _, text := range []string{"0", "10", "as it is", "signal-to-noise ratio, dB"} {
		p.text(t, text)
	}
	if above, below := p.text(t, "hmm"), p.text(t, "peaks"); math.Abs(above.y-below.y-12) > 0.01 || above.x <= p.at(15, 0, 0, 0).x {
		t.Errorf("names at %v and %v: want them 12 points apart, right of the points", above, below)
	}
	want := "peaks: 50.0 % at 0 dB (45.0 to 60.0); 70.0 % at 10 dB; 90.0 % as it is (80.0 to 95.0); hmm: 75.0 % at 10 dB (70.0 to 80.0); 92.0 % as it is (90.0 to 100.0); Bands are 95 % intervals over people."
	if f.text != want {
		t.Errorf("text\n%s, want\n%s", f.text, want)
	}
	if noiseFigure(s, "other", "2", series[0]) != nil {
		t.Error("a figure of one point")
	}
}

func TestCostFigure(t *testing.T) {
	s := &eval.Study{Header: eval.StudyHeader{Methods: []string{"fast", "slow", "unknown"}}, Cells: []eval.StudyCell{
		studyCell("x", "fast", "", 0.7, 0.6, 0.8, 3), studyCell("x", "slow", "", 0.9, nothing, nothing, 8), studyCell("x", "unknown", "", 0.5, 0.4, 0.6, nothing),
	}}
	f := costFigure(s, "x", "1")
	p := sketchOf(t, f, axes{0, 8 / (1 - labelShare), 60, 100})
	p.has(t, "interval", "fill:none;stroke:#0072B2;stroke-width:1.2", p.at(3, 60, 0, 0), p.at(3, 80, 0, 0))
	p.text(t, "8")
	if want := "fast: 70.0 % at 3 s per hour (60.0 to 80.0); slow: 90.0 % at 8 s per hour;"; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
	s.Cells[1].Cost = 300 // far apart: from 1 to 1000 in decades
	sketchOf(t, costFigure(s, "x", "1"), axes{1, math.Pow(1000, 1/(1-labelShare)), 60, 100}).text(t, "1000")
	for i := range s.Cells {
		s.Cells[i].Cost = nothing
	}
	if costFigure(s, "x", "1") != nil {
		t.Error("a figure without costs")
	}
}

func TestConditionFigure(t *testing.T) {
	s := &eval.Study{Header: eval.StudyHeader{Methods: []string{"a", "b"}}, Cells: []eval.StudyCell{studyCell("x", "b", "clip=0.1", 0.7, 0.6, 0.8, 1)}}
	f := conditionFigure(s, "x", "1", []string{"bits=8", "clip=0.1"})
	p := sketchOf(t, f, axes{60, 100, -1.5, 0.5})
	p.has(t, "interval in the style of the method", "fill:none;stroke:#D55E00;stroke-width:1.4", p.at(60, -1, 0, 0), p.at(80, -1, 0, 0))
	p.text(t, "clip=0.1:")
	if want := "clip=0.1: b 70.0 % (60.0 to 80.0);"; f.text != want {
		t.Errorf("text %q, want %q", f.text, want)
	}
	if conditionFigure(s, "x", "1", []string{"bits=8"}) != nil {
		t.Error("a figure without rows")
	}
}

func TestSpread(t *testing.T) {
	for _, tt := range []struct {
		wanted []float64
		want   []float64
	}{
		{[]float64{50, 20, 80}, []float64{50, 20, 80}},
		{[]float64{50, 52}, []float64{46, 56}},          // around their mean
		{[]float64{52, 50}, []float64{56, 46}},          // in their order
		{[]float64{99, 98, 50}, []float64{100, 90, 50}}, // within the limits
		{[]float64{1, 2, 3}, []float64{0, 10, 20}},
		{[]float64{50, 50, 62}, []float64{44, 54, 64}}, // what is moved moves the next
		{[]float64{50, 50, 61, 61}, []float64{40.5, 50.5, 60.5, 70.5}},
		{nil, []float64{}},
	} {
		if got := spread(tt.wanted, 10, 0, 100); !slices.Equal(got, tt.want) {
			t.Errorf("%v spread to %v, want %v", tt.wanted, got, tt.want)
		}
	}
}

func TestNiceStep(t *testing.T) {
	for length, want := range map[float64]float64{0.83: 0.2, 1: 0.2, 4.9: 1, 5: 1, 8: 2, 12: 5, 40: 10, 51: 20} {
		if got := niceStep(length); math.Abs(got-want) > 1e-12 {
			t.Errorf("step of %v is %v, want %v", length, got, want)
		}
	}
}

// A series is told apart from all others before the styles start again.
func TestStylesDiffer(t *testing.T) {
	seen := make(map[string]int)
	for i, s := range seriesStyles {
		if s.colour != ink && strings.Contains(fmt.Sprint(s.colour), "{0 0 0") {
			t.Errorf("series %d is black but not of the ink", i)
		}
		for _, key := range []string{fmt.Sprint(s.colour, s.dash), fmt.Sprintf("%T %v", s.shape, s.shape)} {
			if other, ok := seen[key]; ok {
				t.Errorf("series %d looks like %d: %s", i, other, key)
			}
			seen[key] = i
		}
	}
}
