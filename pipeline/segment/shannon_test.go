package segment

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// bumps is an envelope of 0 with triangular peaks of the given heights.
func bumps(n int, heights map[int]float64) []float64 {
	e := make([]float64, n)
	for at, h := range heights {
		for d := -3; d <= 3; d++ {
			e[at+d] = max(e[at+d], h*float64(4-max(d, -d))/4)
		}
	}
	return e
}

func TestPickPeaks(t *testing.T) {
	// Beats of 30 + 50 frames of 10 ms.
	regular := map[int]float64{20: 4, 50: 3, 100: 4, 130: 3, 180: 4, 210: 3, 260: 4, 290: 3, 340: 4, 370: 3}
	with := func(changes map[int]float64) map[int]float64 {
		m := make(map[int]float64)
		for at, h := range regular {
			m[at] = h
		}
		for at, h := range changes {
			m[at] = h
			if h == 0 {
				delete(m, at)
			}
		}
		return m
	}
	want := []int{20, 50, 100, 130, 180, 210, 260, 290, 340, 370}
	for _, c := range []struct {
		name  string
		peaks map[int]float64
		want  []int
	}{
		{"regular", regular, want},
		{"a split sound keeps its first part", with(map[int]float64{104: 3.5}), want},
		{"unless that is much the weaker", with(map[int]float64{96: 1.5}), want},
		{"a click between two sounds goes", with(map[int]float64{140: 2}), want},
		{"a faint sound is found again", with(map[int]float64{210: 0.4}), want},
		{"a lost one is not made up", with(map[int]float64{210: 0}), slices.Concat(want[:5], want[6:])},
	} {
		var p peakPicker
		got := p.pick(bumps(400, c.peaks), defaultShannonOptions(), 0.5)
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

func TestNameSounds(t *testing.T) {
	type named struct {
		State    pcg.State
		At       int
		Supposed bool
	}
	s1 := func(at int) named { return named{pcg.S1, at, false} }
	s2 := func(at int) named { return named{pcg.S2, at, false} }
	for _, c := range []struct {
		name  string
		peaks []int
		want  []named
	}{
		{"two sounds are a diastole", []int{10, 60}, []named{s2(10), s1(60)}},
		{
			"alternation from the longest", []int{20, 50, 100, 130, 182, 212},
			[]named{s1(20), s2(50), s1(100), s2(130), s1(182), s2(212)},
		},
		{
			"a lost S2 is supposed", []int{20, 50, 100, 180, 210, 262, 292},
			[]named{s1(20), s2(50), s1(100), {pcg.S2, 128, true}, s1(180), s2(210), s1(262), s2(292)},
		},
		{
			"an extra peak is passed over", []int{20, 50, 100, 112, 130, 180, 210, 262, 292, 343, 373},
			[]named{s1(20), s2(50), s1(100), s2(130), s1(180), s2(210), s1(262), s2(292), s1(343), s2(373)},
		},
		{
			"a lost S2 and two extra peaks do not exchange the others", []int{10, 43, 110, 210, 243, 280, 310, 343, 410, 443, 478, 510, 543, 610, 643},
			[]named{
				s1(10), s2(43), s1(110), {pcg.S2, 143, true}, s1(210), s2(243), s1(310), s2(343),
				s1(410), s2(443), s1(510), s2(543), s1(610), s2(643),
			},
		},
	} {
		sounds, b := nameSounds(nil, c.peaks)
		var got []named
		for _, s := range sounds {
			got = append(got, named{s.state, s.at, s.supposed})
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s, beat %+v (-want +got):\n%s", c.name, b, diff)
		}
	}
}

// The threshold is that under which the sounds beat regularly, whatever noise lies
// between the thresholds.
func TestNameBest(t *testing.T) {
	heights := make(map[int]float64)
	for at := 20; at < 1100; at += 100 { // diastole twice as long as systole
		heights[at], heights[at+33] = 4, 3
		for _, extra := range []int{47, 58, 69, 81} {
			if (at/100+extra)%3 > 0 {
				heights[at+extra] = 1
			}
		}
	}
	s := &shannonSegmenter{options: *defaultShannonOptions(), envelope: bumps(1110, heights)}
	b, regularity := s.nameBest()
	if b != (beat{systole: 33, diastole: 67}) || regularity < 0.9 || len(s.sounds) != 22 {
		t.Errorf("beat %+v, regularity %.2f, %d sounds", b, regularity, len(s.sounds))
	}
	for i, sound := range s.sounds {
		if want := []int{20, 53}[i%2] + i/2*100; sound.at != want || sound.state != []pcg.State{pcg.S1, pcg.S2}[i%2] {
			t.Errorf("sound %d is %v at %d, want one at %d", i, sound.state, sound.at, want)
		}
	}
	// Single sounds a second apart are no systole and diastole.
	if r := (beat{systole: 100, diastole: 100}).regularity([]sound{{state: pcg.S1}, {state: pcg.S2, at: 100}, {state: pcg.S1, at: 200}}, 300); r != 0 {
		t.Errorf("regularity %v of a systole of a second", r)
	}
}

func TestQuantile(t *testing.T) {
	for _, c := range []struct{ q, want float64 }{{0, 1}, {0.5, 3}, {0.8, 4}, {1, 5}} {
		if got := quantile([]float64{4, 2, 5, 1, 3}, c.q); got != c.want {
			t.Errorf("quantile %g is %g, want %g", c.q, got, c.want)
		}
	}
}

// Boundaries lie within a sound's limits and never cross those of a neighbour.
func TestMarkBoundaries(t *testing.T) {
	envelope := bumps(100, map[int]float64{3: 4, 30: 4, 38: 2, 96: 1})
	for i := range envelope {
		envelope[i] += 10 // a level that nothing falls below
	}
	sounds := []sound{{state: pcg.S1, at: 3}, {state: pcg.S2, at: 30}, {state: pcg.S1, at: 38}, {state: pcg.S2, at: 96}}
	markBoundaries(sounds, envelope, 0.3)
	end := 0
	for _, s := range sounds {
		if s.start < end || s.start > s.at || s.end <= s.at || s.end-s.start > longestSound || s.end > len(envelope) {
			t.Errorf("sound at %d lies in [%d, %d), the one before ends at %d", s.at, s.start, s.end, end)
		}
		end = s.end
	}
}
