package segment

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/network"
)

// exact returns a reference of n cycles of the given length whose sojourns lie
// on lines, and a systole longer by shift.
func exact(n int, cycle, shift float64) []pcg.Interval {
	var ivs []pcg.Interval
	var at time.Duration
	for range n {
		for j, d := range [4]float64{0.05 + 0.1*cycle, 0.06 + 0.15*cycle + shift, 0.04 + 0.1*cycle, -0.15 + 0.65*cycle - shift} {
			end := at + pcg.FromSeconds(d)
			ivs = append(ivs, pcg.Interval{Start: at, End: end, State: pcg.Cycle[j]})
			at = end
		}
	}
	return append(ivs, pcg.Interval{Start: at, End: at + 100*time.Millisecond, State: pcg.S1})
}

// TestSojournRegression recovers the lines that references were made from, and
// the scatter between recordings, ±s in equal numbers: of SD s·√(n/(n−2)).
func TestSojournRegression(t *testing.T) {
	var means []cycleSojourns
	const pairs, shift = 10, 0.01
	for k := range pairs {
		c := 0.4 + 0.05*float64(k)
		for _, s := range []float64{shift, -shift} {
			cycles := wholeCycles(exact(6, c, s))
			if len(cycles) != 6 {
				t.Fatalf("%d whole cycles, want 6", len(cycles))
			}
			means = append(means, meanSojourns(cycles))
		}
	}
	var got sojournRegression
	if err := got.regress(means); err != nil {
		t.Fatal(err)
	}
	want := sojournRegression{
		Intercept: [4]float64{0.05, 0.06, 0.04, -0.15},
		Slope:     [4]float64{0.1, 0.15, 0.1, 0.65},
		SystoleSD: shift * math.Sqrt(2*pairs/(2*pairs-2.0)),
	}
	for j := range want.Slope {
		if math.Abs(got.Intercept[j]-want.Intercept[j]) > 1e-6 || math.Abs(got.Slope[j]-want.Slope[j]) > 1e-6 {
			t.Errorf("%v: %.6f + %.6f c, want %.2f + %.2f c", pcg.Cycle[j], got.Intercept[j], got.Slope[j], want.Intercept[j], want.Slope[j])
		}
	}
	if math.Abs(got.SystoleSD-want.SystoleSD) > 1e-6 {
		t.Errorf("SD of systole %.6f, want %.6f", got.SystoleSD, want.SystoleSD)
	}
	if math.Abs(got.systole(1)-0.36) > 1e-6 {
		t.Errorf("systole at 60 a minute %.6f, want 0.36", got.systole(1))
	}
}

// TestSojournRegressionWithin measures the scatter within a recording: sojourns m ± d in
// equal numbers.
func TestSojournRegressionWithin(t *testing.T) {
	var refs []personReference
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
		refs = append(refs, personReference{"", ivs})
	}
	got, err := estimateRegression(refs)
	if err != nil {
		t.Fatal(err)
	}
	for j, sd := range got.SD {
		if math.Abs(sd-0.010) > 1e-4 {
			t.Errorf("SD of %v %.5f, want 0.010", pcg.Cycle[j], sd)
		}
	}
	if low, high := 0.010/0.740, 0.010/0.630; got.DiastoleSD < low || got.DiastoleSD > high {
		t.Errorf("SD of diastole %.5f of the cycle, want between %.5f and %.5f", got.DiastoleSD, low, high)
	}
}

func TestEstimateRegressionRefuses(t *testing.T) {
	var same []personReference
	for range 12 {
		same = append(same, personReference{"", exact(5, 0.6, 0)})
	}
	for name, refs := range map[string][]personReference{"one rate": same, "none": nil, "few": same[:3]} {
		if _, err := estimateRegression(refs); !errors.Is(err, errFewCycles) {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

// TestPersonShare: of the departures ±a by person and ±b by recording within each,
// balanced, the analysis of variance has the closed form within = b²·n/(n − k)
// and between = a²·k/(k − 1) − within/2, for k people with two recordings each.
func TestPersonShare(t *testing.T) {
	const k, a, b = 8, 0.02, 0.01
	c := sojournRegression{Slope: [4]float64{0.1, 0.15, 0.1, 0.65}}
	var means []cycleSojourns
	var people []string
	for p := range k {
		for r := range 2 {
			d := a*float64(2*(p%2)-1) + b*float64(2*r-1)
			means = append(means, cycleSojourns{0.1, 0.15 + d, 0.1, 0.65 - d})
			people = append(people, string(rune('a'+p)))
		}
	}
	const within = 2 * b * b
	const between = a*a*k/(k-1.0) - within/2
	if got, want := c.personShare(means, people), between/(between+within); math.Abs(got-want) > 1e-9 {
		t.Errorf("share of people %.6f, want %.6f", got, want)
	}
	for i := range people {
		people[i] += string(rune('0' + i))
	}
	if got := c.personShare(means, people); got != 0 {
		t.Errorf("one recording each: share of people %v, want 0", got)
	}
}

// TestSojournRegressionMeans: the means of the sojourns are those of the rhythm and
// add up to its cycle.
func TestSojournRegressionMeans(t *testing.T) {
	c := sojournRegression{
		Intercept: [4]float64{0.05, 0.06, 0.04, -0.15}, Slope: [4]float64{0.1, 0.15, 0.1, 0.65},
		SD: [3]float64{0.015, 0.015, 0.015}, DiastoleSD: 0.05, SystoleSD: 0.02,
	}
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
	c := sojournRegression{Intercept: [4]float64{0.05, 0.06, 0.04, -0.15}, Slope: [4]float64{0.1, 0.15, 0.1, 0.65}}
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
	for _, s := range suspects(set, &c) {
		got = append(got, s.Recording)
		if math.Abs(s.Expected-0.26) > 1e-6 || math.Abs(s.Systole-0.34) > 1e-6 || math.Abs(s.Cycle-0.6) > 1e-6 {
			t.Errorf("suspect %+v, want a systole of 0.34 s where 0.26 s is expected", s)
		}
	}
	if d := cmp.Diff([]string{"1b"}, got); d != "" {
		t.Errorf("suspects (-want +got):\n%s", d)
	}
}
