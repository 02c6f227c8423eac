package report

import (
	"math"
	"strings"
	"testing"
	"time"
)

// Four beats of a reference 60 ms after R, and what was predicted near them.
func TestRToS1(t *testing.T) {
	at := func(list ...int) (times []time.Duration) {
		for _, ms := range list {
			times = append(times, time.Duration(ms)*time.Millisecond)
		}
		return times
	}
	b := NewRToS1(60 * ms)
	b.Add(at(1060, 2060, 3060, 4060), at(1060, 2089, 3300, 3990))
	// 60 and 89 ms; for the third 300 ms; 10 ms before R for the fourth.
	want := map[int]int{60: 1, 89: 1, 300: 1, -10: 1}
	for i, n := range b.counts {
		if n != want[rToS1First+i] {
			t.Errorf("%d beats at %d ms, want %d", n, rToS1First+i, want[rToS1First+i])
		}
	}
	bars := b.bars()
	if len(bars) != 70 || bars[26] != 25 || bars[28] != 25 || bars[50] != 25 || bars[19] != 25 {
		t.Errorf("bars %v", bars)
	}

	b.Add(at(60, 1060), at(5000))
	b.Add(at(10000), at(60))
	if b.counts[len(b.counts)-1] != 2 || b.counts[0] != 1 {
		t.Errorf("%d beats of 2 far behind, %d of 1 far before", b.counts[len(b.counts)-1], b.counts[0])
	}
	b.Add(at(60, 1060), nil)
	if b.beats != 9 || b.without != 2 {
		t.Errorf("%d beats, %d of these without a prediction", b.beats, b.without)
	}
	if got := b.quantile(0.5); got != 89.5 { // −200, −10, 60, 89, 300, 499, 499
		t.Errorf("median %v", got)
	}
	text := "9 beats. The reference expects S1 60 ms after the R wave; the tolerance is 100 ms. The nearest predicted S1 follows after a median of 90 ms" +
		" (5 % of the beats before -200, 95 % before 500). 2 beats lie in recordings without a predicted S1."
	if got := b.text(100); got != text {
		t.Errorf("%s\nwant\n%s", got, text)
	}
}

// The figure marks the reference and the tolerance where they belong, and stands in
// the page of a run that is scored against an ECG alone.
func TestRToS1Figure(t *testing.T) {
	page := examplePage(t, "rec", 10*ms)
	if html := written(t, page); strings.Contains(html, "r-to-s1") {
		t.Error("a page without ECG shows R to S1")
	}
	b := NewRToS1(60 * ms)
	page.Runs[0].Details.RToS1 = b
	for i := range 100 {
		s1 := time.Duration(1000*i+60) * ms
		b.Add([]time.Duration{s1}, []time.Duration{s1 + time.Duration(i%20)*ms})
	}
	html := written(t, page)
	if !strings.Contains(html, `id="r-to-s1-title"`) || !strings.Contains(html, "100 beats. The reference expects S1 60 ms after the R wave") {
		t.Error("the page has no figure of R to S1")
	}
	// Half of the beats lie in each of two bars.
	s := sketchOf(t, rToS1Figure(b, 100), axes{-200, 500, 0, 52.5})
	s.has(t, "S1 of the reference", "stroke:var(--ink);stroke-width:1.2", s.at(60, 0, 0, 0), s.at(60, 52.5, 0, 0))
	s.has(t, "tolerance", "fill:#009D72", s.at(-40, 0, 0, 0), s.at(160, 0, 0, 0), s.at(160, 52.5, 0, 0), s.at(-40, 52.5, 0, 0))
	outlines := s.styled("fill:none;stroke:#0072B2;stroke-width:0.9")
	if len(outlines) != 1 {
		t.Fatalf("%d outlines, want 1", len(outlines))
	}
	for _, p := range outlines[0] {
		ms := -200 + 700*(p.x-s.left)/(s.right-s.left)
		want := 0.0
		if ms > 61 && ms < 79 {
			want = 50
		}
		edge := math.Abs(ms-60) < 1 || math.Abs(ms-80) < 1 // of both heights
		if !edge && math.Abs(p.y-s.at(0, want, 0, 0).y) > 0.02 {
			t.Errorf("the outline is %.2f points high at %.0f ms", p.y-s.bottom, ms)
		}
	}
}
