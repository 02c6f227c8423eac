package report

import (
	"math"
	"strings"
	"testing"
	"time"
)

// exampleECG returns an ECG of nine seconds at 500 samples per second: spikes of 1 at
// the R waves, -0.25 at 30 ms behind them, else 0.
func exampleECG() ECG {
	e := ECG{Wave: make([]float64, 4500), Rate: 500}
	for at := 250 * ms; at < 9*time.Second; at += 800 * ms {
		e.RWaves = append(e.RWaves, at)
		e.Wave[int(at/(2*ms))], e.Wave[int((at+30*ms)/(2*ms))] = 1, -0.25
	}
	return e
}

func TestECGBetween(t *testing.T) {
	e := exampleECG()
	s := e.Between(1*time.Second, 1850*ms)
	if len(s.Wave) != 425 || s.Wave[25] != 1 || s.Rate != 500 || len(s.RWaves) != 1 || s.RWaves[0] != 1050*ms {
		t.Errorf("%d samples, R waves at %v", len(s.Wave), s.RWaves)
	}
	if s = e.Between(8*time.Second, 10*time.Second); len(s.Wave) != 500 || len(s.RWaves) != 1 {
		t.Errorf("beyond the end: %d samples, R waves at %v", len(s.Wave), s.RWaves)
	}
	if s = (&ECG{}).Between(0, time.Second); len(s.Wave) != 0 {
		t.Errorf("of no ECG: %d samples", len(s.Wave))
	}
}

// The ECG stands above the sound, on a scale for its R waves, with a triangle at each.
func TestECGInAView(t *testing.T) {
	v := exampleView("rec")
	plain := v.figure()
	full := exampleECG()
	v.ECG = full.Between(v.From, v.To)
	f := v.figure()
	if f.height != plain.height+67 {
		t.Errorf("%v points high with the ECG, %v without", f.height, plain.height)
	}
	if want := " ECG: 10 R waves."; !strings.HasSuffix(f.text, want) || strings.HasSuffix(plain.text, want) {
		t.Errorf("described as %q, without ECG as %q", f.text, plain.text)
	}
	strips, height := v.strips()
	l := strips[len(strips)-1]
	if l.name != "ECG" || strips[len(strips)-2].name != "sound" || l.top != height {
		t.Fatalf("the highest strips are %q and %q", strips[len(strips)-2].name, l.name)
	}
	s := sketchOf(t, f, axes{0, 8, 0, height})
	for _, r := range v.ECG.RWaves {
		tip := s.at(r.Seconds(), l.top-6, 0, 0)
		s.has(t, "R wave at "+r.String(), "fill:#CC79A7", tip, point{tip.x - 3, tip.y + 5}, point{tip.x + 3, tip.y + 5})
	}
	waves := s.styled("stroke:#CC79A7")
	if len(waves) != 1 {
		t.Fatalf("%d lines of the ECG, want 1", len(waves))
	}
	// Near R waves it lies between -0.25 and 1, and a third of 1.25 is added on both sides.
	value := func(v float64) float64 { return l.low + (l.top-7-l.low)*(v+2./3)/(25./12) }
	for _, p := range waves[0] {
		seconds := (p.x - s.left) / (s.right - s.left) * 8
		after := math.Mod(seconds-0.25+0.8, 0.8)
		want := value(0)
		switch {
		case math.Min(after, 0.8-after) < 0.015, math.Abs(after-0.03) < 0.015:
			continue // a column with a spike has two heights
		case p.near(point{p.x, s.at(0, want, 0, 0).y}):
			continue
		}
		t.Errorf("at %.3f s the ECG stands at %.2f, want %.2f", seconds, p.y, s.at(0, want, 0, 0).y)
	}
	top, bottom := math.Inf(-1), math.Inf(1)
	for _, p := range waves[0] {
		top, bottom = max(top, p.y), min(bottom, p.y)
	}
	if !(point{0, top}).near(point{0, s.at(0, value(1), 0, 0).y}) || !(point{0, bottom}).near(point{0, s.at(0, value(-0.25), 0, 0).y}) {
		t.Errorf("the ECG reaches from %.2f to %.2f, want %v and %v", bottom, top, s.at(0, value(-0.25), 0, 0), s.at(0, value(1), 0, 0))
	}
}

// A flat ECG is a line.
func TestFlatECG(t *testing.T) {
	v := exampleView("rec")
	v.ECG = ECG{Wave: make([]float64, 4000), Rate: 500}
	_, height := v.strips()
	s := sketchOf(t, v.figure(), axes{0, 8, 0, height})
	for _, p := range s.styled("stroke:#CC79A7")[0] {
		if !p.near(point{p.x, s.at(0, height-30, 0, 0).y}) {
			t.Fatalf("a flat ECG at %v", p)
		}
	}
}

// Pages name the ECG where they show one.
func TestECGOnPages(t *testing.T) {
	const sentence = "Above the sound stands the ECG"
	page := examplePage(t, "rec", 10*ms)
	if strings.Contains(written(t, page), sentence) {
		t.Error("a report without ECG names it")
	}
	e := exampleECG()
	page.Recordings[1].ECG = e.Between(0, 8*time.Second)
	if html := written(t, page); !strings.Contains(html, sentence) || strings.Count(html, "ECG: 10 R waves.") != 1 {
		t.Error("a report with the ECG of one recording does not show it once")
	}

	teaching := exampleTeachingPage("rec", uneven(9))
	if strings.Contains(teachingHTML(t, teaching), "The ECG above the sound") {
		t.Error("a teaching page without ECG names it")
	}
	teaching.Recordings[0].ECG = e
	v := teaching.view(0, "")
	if html := teachingHTML(t, teaching); !strings.Contains(html, "The ECG above the sound") || len(v.ECG.RWaves) == 0 || len(v.ECG.Wave) != 2500 {
		t.Errorf("a teaching page with ECG: %d samples, R waves at %v", len(v.ECG.Wave), v.ECG.RWaves)
	}
}

// What is higher than the R waves of most beats does not make these small.
func TestScaleOfAnECG(t *testing.T) {
	e := exampleECG()
	for i := range 200 { // an artefact over the first beat
		e.Wave[i] += 50
	}
	if low, high := e.scale(0); math.Abs(low+2./3) > 1e-12 || math.Abs(high-17./12) > 1e-12 {
		t.Errorf("from %g to %g, want -2/3 to 17/12", low, high)
	}
	later := e.Between(500*ms, 8*time.Second)
	if low, high := later.scale(500 * ms); math.Abs(low+2./3) > 1e-12 || math.Abs(high-17./12) > 1e-12 {
		t.Errorf("of a section from %g to %g, want -2/3 to 17/12", low, high)
	}
	e.RWaves = nil
	if low, high := e.scale(0); low != -0.25 || high != 51 {
		t.Errorf("without R waves from %g to %g", low, high)
	}
}
