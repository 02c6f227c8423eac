package segment

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/network"
)

// childRegression has sojourns as those of children.
func childRegression() *sojournRegression {
	return &sojournRegression{
		S1S2: regressionLine{0.34, 0.15}, S1: regressionLine{0.15, 0.06}, S2: regressionLine{0.14, 0.06},
		SD: [4]float64{0.14, 0.07, 0.15, 0.2}, SystoleSD: 0.1,
	}
}

// exact returns a reference of n cycles of the given length whose sojourns lie
// on lines, and a systole longer by shift.
func exact(n int, cycle, shift float64) []pcg.Interval {
	c := childRegression()
	sounding := math.Min(cycle, restingCycle)
	s1, s2, systole := c.S1.at(sounding), c.S2.at(sounding), c.systole(cycle)+shift
	var ivs []pcg.Interval
	var at time.Duration
	for range n {
		for j, d := range [4]float64{s1, systole - s1, s2, cycle - systole - s2} {
			end := at + pcg.FromSeconds(d)
			ivs = append(ivs, pcg.Interval{Start: at, End: end, State: pcg.Cycle[j]})
			at = end
		}
	}
	return append(ivs, pcg.Interval{Start: at, End: at + 100*time.Millisecond, State: pcg.S1})
}

// TestSojournRegression recovers the lines of the sounds that references were made
// from, and the scatter between recordings about a line that the adults in print
// hardly move.
func TestSojournRegression(t *testing.T) {
	var means []cycleSojourns
	const pairs, shift = 200, 0.01
	for k := range pairs {
		c := 0.4 + 0.5*float64(k)/pairs
		for _, s := range []float64{shift, -shift} {
			cycles := wholeCycles(exact(6, c, s))
			if len(cycles) != 6 {
				t.Fatalf("%d whole cycles, want 6", len(cycles))
			}
			means = append(means, meanSojourns(cycles))
		}
	}
	var got sojournRegression
	got.regress(means)
	want := childRegression()
	for name, l := range map[string][2]regressionLine{"S1": {got.S1, want.S1}, "S2": {got.S2, want.S2}} {
		if math.Abs(l[0].Intercept-l[1].Intercept) > 1e-6 || math.Abs(l[0].Slope-l[1].Slope) > 1e-6 {
			t.Errorf("%s: %+v, want %+v", name, l[0], l[1])
		}
	}
	for _, cycle := range []float64{0.4, 0.6, 0.9} {
		if d := got.systole(cycle) - want.systole(cycle); math.Abs(d) > 0.005 {
			t.Errorf("S1–S2 at a cycle of %v s is off by %.4f s", cycle, d)
		}
	}
	var sum float64
	for _, m := range means {
		sum += math.Pow(shift/want.systole(m.length()), 2)
	}
	if sd := math.Sqrt(sum / (2*pairs - 2)); math.Abs(got.SystoleSD/sd-1) > 0.05 {
		t.Errorf("SD of S1–S2 %.5f of it, want %.5f", got.SystoleSD, sd)
	}
}

// The law of S1–S2 that children give holds for the slow hearts of adults at rest
// (Weissler 1968, two of its SDs of 14 ms) and leaves room for all states to 220
// beats a minute; sounds of slow hearts last within 70 to 150 ms, as in print.
func TestSojournRegressionBeyondTheAnnotatedRates(t *testing.T) {
	var means []cycleSojourns
	for rate := 65.0; rate <= 155; rate += 5 {
		means = append(means, meanSojourns(wholeCycles(exact(5, 60/rate, 0))))
	}
	c := childRegression()
	c.regress(means)
	for rate := 40.0; rate <= 60; rate += 5 {
		if got, want := c.systole(60/rate), (547.5-2.05*rate-70)/1000; math.Abs(got-want) > 0.028 {
			t.Errorf("%g a minute: S1–S2 lasts %.3f s, want about %.3f", rate, got, want)
		}
		var sojourns hsmm.Sojourns
		c.set(&sojourns, rhythm{60 / rate, c.systole(60 / rate)})
		for _, j := range []int{0, 2} {
			if got := sojourns[j].Mean() / frameRate; got < 0.07 || got > 0.15 {
				t.Errorf("%g a minute: %v lasts %.3f s", rate, pcg.Cycle[j], got)
			}
		}
	}
	for rate := 160.0; rate <= 220; rate += 10 {
		systole := c.systole(60/rate) - c.S1.at(60/rate)
		diastole := 60/rate - c.systole(60/rate) - c.S2.at(60/rate)
		if systole < shortestMean || diastole < shortestMean {
			t.Errorf("%g a minute: systole %.3f s, diastole %.3f s", rate, systole, diastole)
		}
	}
}

// Recordings of one rate give level lines of the sounds; print gives the slope of
// S1–S2.
func TestSojournRegressionOfOneRate(t *testing.T) {
	means := slices.Repeat([]cycleSojourns{meanSojourns(wholeCycles(exact(5, 0.6, 0)))}, 12)
	var c sojournRegression
	c.regress(means)
	if c.S1.Slope != 0 || c.S2.Slope != 0 || c.S1S2.Slope < 0.1 {
		t.Errorf("%+v", c)
	}
}

// TestSojournRegressionWithin measures the scatter within a recording: sojourns m ± d in
// equal numbers.
func TestSojournRegressionWithin(t *testing.T) {
	var refs [][]pcg.Interval
	for k := range 12 {
		var ivs []pcg.Interval
		var at time.Duration
		for i := range 101 {
			sign := time.Duration(2*(i%2) - 1)
			for j, d := range [4]time.Duration{100, 150, 80, 300} {
				length := (d + 10*sign + time.Duration(10*k*(j/3))) * time.Millisecond
				ivs = append(ivs, pcg.Interval{Start: at, End: at + length, State: pcg.Cycle[j]})
				at += length
			}
		}
		refs = append(refs, ivs)
	}
	got, err := estimateRegression(refs)
	if err != nil {
		t.Fatal(err)
	}
	for j, spread := range got.spread(rhythm{0.685, 0.25}) {
		if sd := got.SD[j] * spread; math.Abs(sd-0.010) > 5e-4 {
			t.Errorf("SD of %v %.5f s, want 0.010", pcg.Cycle[j], sd)
		}
	}
}

// Spreads are in proportion to the durations, and that of diastole grows no more
// from the resting cycle on.
func TestSpread(t *testing.T) {
	c := childRegression()
	for _, cycle := range []float64{0.28, 0.4, 0.75} {
		s := c.spread(rhythm{cycle, c.systole(cycle) + 0.01})
		if sum := s[1] + s[2] + s[3]; math.Abs(sum-cycle) > 1e-9 {
			t.Errorf("cycle of %v s: spreads %v add up to %v", cycle, s, sum)
		}
	}
	if slow, resting := c.spread(rhythm{1.5, c.systole(1.5)}), c.spread(rhythm{restingCycle, c.systole(restingCycle)}); slow[3] != resting[3] || slow[1] <= resting[1] {
		t.Errorf("spreads %v at a slow rate, %v at rest", slow, resting)
	}
}

func TestEstimateRegressionRefuses(t *testing.T) {
	few := make([][]pcg.Interval, 3)
	for i := range few {
		few[i] = exact(5, 0.6, 0)
	}
	for name, refs := range map[string][][]pcg.Interval{"none": nil, "few": few} {
		if _, err := estimateRegression(refs); !errors.Is(err, errFewCycles) {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

// TestSojournRegressionMeans: the means of the sojourns are those of the rhythm and
// add up to its cycle.
func TestSojournRegressionMeans(t *testing.T) {
	c := childRegression()
	for _, cycle := range []float64{0.4, 0.6, 1, 2} {
		var sojourns hsmm.Sojourns
		r := rhythm{cycle, c.systole(cycle) + 0.02}
		c.set(&sojourns, r)
		sum := 0.0
		for j := range sojourns {
			sum += sojourns[j].Mean()
		}
		if math.Abs(sum/frameRate-cycle) > 1e-3 {
			t.Errorf("cycle of %v s: means add up to %v s", cycle, sum/frameRate)
		}
		if s := (sojourns[0].Mean() + sojourns[1].Mean()) / frameRate; math.Abs(s-r.systole) > 1e-3 {
			t.Errorf("cycle of %v s: systole %v s, want %v s", cycle, s, r.systole)
		}
	}
}

// TestSuspects finds the recording of a person in which S1 and S2 are exchanged,
// and neither a person whose systole is long at all sites nor a pair that cannot
// say which of them is wrong.
func TestSuspects(t *testing.T) {
	exchange := func(ivs []pcg.Interval) []pcg.Interval {
		var out []pcg.Interval
		for _, iv := range ivs {
			iv.State = iv.State.Exchanged()
			out = append(out, iv)
		}
		return out
	}
	c := childRegression()
	right := exact(6, 0.6, 0)
	set := []network.Example{
		{Recording: "1a", Person: "1", Intervals: right},
		{Recording: "2a", Person: "2", Intervals: exact(6, 0.6, 0.06)},
		{Recording: "1b", Person: "1", Intervals: exchange(right)},
		{Recording: "3a", Person: "3", Intervals: right},
		{Recording: "2b", Person: "2", Intervals: exact(6, 0.62, 0.06)},
		{Recording: "1c", Person: "1", Intervals: exact(6, 0.55, 0)},
		{Recording: "3b", Person: "3", Intervals: exchange(right)},
		{Recording: "2c", Person: "2", Intervals: exact(6, 0.58, 0.06)},
	}
	var got []string
	for _, s := range suspects(set, c) {
		got = append(got, s.Recording)
		if math.Abs(s.Expected-c.systole(0.6)) > 1e-6 || math.Abs(s.Systole-(0.6-c.systole(0.6))) > 1e-6 || math.Abs(s.Cycle-0.6) > 1e-6 {
			t.Errorf("suspect %+v, want a systole of %.3f s where %.3f s is expected", s, 0.6-c.systole(0.6), c.systole(0.6))
		}
	}
	if d := cmp.Diff([]string{"1b"}, got); d != "" {
		t.Errorf("suspects (-want +got):\n%s", d)
	}
}
