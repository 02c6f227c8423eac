package segment

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"phonocycle/pipeline/segment/hsmm"
)

// beating returns log-likelihoods of frames with sounds at the rhythm of the
// sojourns, in noise: the states are hard to tell apart.
func beating(rng *rand.Rand, frames int, s *hsmm.Sojourns) []float64 {
	ll := make([]float64, 4*frames)
	j, left := 0, int(s[0].Mean())
	for t := range frames {
		for left <= 0 {
			j = (j + 1) % 4
			left = int(math.Round(s[j].Mean() + rng.NormFloat64()))
		}
		left--
		for k := range 4 {
			ll[4*t+k] = rng.NormFloat64()
		}
		ll[4*t+j] += 1.5
	}
	return ll
}

// The search finds what a loop over all cycle lengths, and over the shifts of the
// best of these, finds one hypothesis at a time, by both scores.
func TestSearchFindsTheBestRhythm(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	regression := childRegression()
	sojourns := new(hsmm.Sojourns)
	for name, score := range map[string]func(*hsmm.Decoder, []*hsmm.Sojourns) []float64{
		"sum over paths": (*hsmm.Decoder).Likelihoods, "best path": (*hsmm.Decoder).BestScores,
	} {
		const blur = 0.2
		search := newRhythmSearch(defaultRates(), regression, score, blur)
		for trial := range 20 {
			cycle := search.cycles[rng.IntN(len(search.cycles))]
			regression.set(sojourns, rhythm{cycle, regression.systole(cycle)})
			d := new(hsmm.Decoder)
			frames := 40 + rng.IntN(800)
			d.Load(beating(rng, frames, sojourns))
			want := exhaustive(func(s *hsmm.Sojourns, cycle float64) float64 {
				return score(d, []*hsmm.Sojourns{s})[0] - blur*4*float64(frames)/frameRate/cycle
			}, regression, search.cycles)
			got, err := search.best(context.Background(), d)
			if err != nil || got != want {
				t.Errorf("%s, trial %d: %+v, error %v, want %+v", name, trial, got, err, want)
			}
		}
	}
}

// exhaustive is the search, written a second time.
func exhaustive(score func(*hsmm.Sojourns, float64) float64, regression *sojournRegression, cycles []float64) rhythm {
	s := new(hsmm.Sojourns)
	try := func(cycle, shift float64) (rhythm, float64) {
		r := rhythm{cycle, regression.systole(cycle) * (1 + shift*regression.SystoleSD)}
		regression.set(s, r)
		return r, score(s, cycle)
	}
	prior := func(cycle, shift float64) float64 {
		z := math.Log(60/cycle/math.Sqrt(43*181)) / 0.309
		return (z*z + shift*shift) / 2
	}
	var top, scores [topCycles]float64
	for i := range scores {
		scores[i] = math.Inf(-1)
	}
	for _, c := range cycles {
		_, v := try(c, 0)
		v -= prior(c, 0)
		for i := range top {
			if v > scores[i] {
				top[i], c, scores[i], v = c, top[i], v, scores[i]
			}
		}
	}
	best, choice := math.Inf(-1), rhythm{}
	for _, c := range top {
		if c == 0 {
			continue // fewer cycle lengths than candidates
		}
		for _, shift := range shifts {
			if r, v := try(c, shift); v-prior(c, shift) > best {
				best, choice = v-prior(c, shift), r
			}
		}
	}
	return choice
}

// A grid of fewer cycle lengths than are kept for their shifts is searched all the
// same.
func TestSearchOfFewCycles(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	regression := childRegression()
	sojourns := new(hsmm.Sojourns)
	regression.set(sojourns, rhythm{1, regression.systole(1) * (1 + regression.SystoleSD)})
	d := new(hsmm.Decoder)
	d.Load(beating(rng, 500, sojourns))
	search := newRhythmSearch(Rates{Slowest: 60, Fastest: 61}, regression, (*hsmm.Decoder).Likelihoods, 0)
	if n := len(search.cycles); n != 2 {
		t.Fatalf("%d cycle lengths, want 2", n)
	}
	want := exhaustive(func(s *hsmm.Sojourns, _ float64) float64 { return d.Likelihoods([]*hsmm.Sojourns{s})[0] }, regression, search.cycles)
	got, err := search.best(context.Background(), d)
	if err != nil || got != want {
		t.Errorf("%+v, error %v, want %+v", got, err, want)
	}
}

// Frames that fit no state leave no rhythm.
func TestSearchWithoutRhythm(t *testing.T) {
	d := new(hsmm.Decoder)
	d.Load(make([]float64, 4*50))
	impossible := func(_ *hsmm.Decoder, s []*hsmm.Sojourns) []float64 {
		scores := make([]float64, len(s))
		for i := range scores {
			scores[i] = math.Inf(-1)
		}
		return scores
	}
	search := newRhythmSearch(defaultRates(), childRegression(), impossible, 0)
	if _, err := search.best(context.Background(), d); !errors.Is(err, errNoRhythm) {
		t.Errorf("error %v, want %v", err, errNoRhythm)
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := search.best(cancelled, d); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want %v", err, context.Canceled)
	}
}
