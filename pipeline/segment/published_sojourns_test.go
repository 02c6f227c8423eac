package segment

import (
	"math"
	"testing"

	"phonocycle/pipeline/segment/hsmm"
)

// The silences fill what the sounds leave of systole and cycle.
func TestPublishedSojourns(t *testing.T) {
	p := schmidtSojourns()
	var s hsmm.Sojourns
	for _, r := range []rhythm{{1, 0.35}, {0.75, 0.3}, {1.6, 0.4}} {
		p.set(&s, r)
		// In frames, the cuts being symmetric, the mean of each distribution is its mean to
		// the rounding of the cuts.
		for j, want := range []float64{p.S1, r.systole - p.S1, p.S2, r.cycle - r.systole - p.S2} {
			if got := s[j].Mean() / frameRate; math.Abs(got-want) > 0.002 {
				t.Errorf("%+v: state %d lasts %.4f s on average, want %.4f", r, j, got, want)
			}
		}
	}
	// At the fastest rate little room is left for diastole, but some is.
	p.set(&s, rhythm{60.0 / 220, 0.14})
	for j := range s {
		if s[j].Mean() < 1 {
			t.Errorf("220/min: state %d lasts %g frames on average", j, s[j].Mean())
		}
	}
}

func TestPublishedSojournsDoNotAllocate(t *testing.T) {
	p := schmidtSojourns()
	var s hsmm.Sojourns
	p.set(&s, rhythm{2, 0.5})
	if n := testing.AllocsPerRun(10, func() { p.set(&s, rhythm{0.8, 0.3}) }); n != 0 {
		t.Errorf("%g allocations per call, want none", n)
	}
}
