package segment

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"phonocycle/pipeline/simd"
)

// exampleTiming are sojourns as those of children.
func exampleTiming() *sojournRegression {
	return &sojournRegression{
		Intercept: [4]float64{0.06, 0.08, 0.05, -0.19}, Slope: [4]float64{0.07, 0.16, 0.07, 0.7},
		SD: [3]float64{0.018, 0.019, 0.017}, DiastoleSD: 0.08, SystoleSD: 0.03, SystolePerson: 0.7,
	}
}

// beating returns log-likelihoods of frames with sounds at a rhythm of the laws,
// in noise: the states are hard to tell apart.
func beating(rng *rand.Rand, frames int, laws *Laws) []float64 {
	ll := make([]float64, 4*frames)
	j, left := 0, int(laws[0].Mean())
	for t := range frames {
		for left <= 0 {
			j = (j + 1) % 4
			left = int(math.Round(laws[j].Mean() + rng.NormFloat64()))
		}
		left--
		for k := range 4 {
			ll[4*t+k] = rng.NormFloat64()
		}
		ll[4*t+j] += 1.5
	}
	return ll
}

// The race chooses what scoring every hypothesis to its end chooses, by the sum
// over paths and by the best path.
func TestRaceChoosesTheLikeliest(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	timing := exampleTiming()
	grid := newRhythmGrid(DefaultRates())
	laws := new(Laws)
	for _, of := range []paths{sumOfPaths, bestPath} {
		search := newRhythmSearch(DefaultRates(), timing, of)
		for trial := range 20 {
			cycle := grid.cycles[rng.IntN(len(grid.cycles))]
			timing.Laws(laws, Hypothesis{cycle, timing.systole(cycle)})
			d := new(Decoder)
			d.Load(beating(rng, 40+rng.IntN(800), laws))
			score := d.Likelihood
			if of == bestPath {
				score = d.Decode
			}
			best := exhaustive(score, timing, grid)
			want := chooseRhythms([][]rhythm{best}, grid.shifts, timing.person())[0]
			got, err := search.likeliest(context.Background(), d)
			if err != nil {
				t.Fatal(err)
			}
			if got.hypothesis != want.hypothesis || math.Abs(got.score-want.score) > 1e-8 {
				t.Errorf("best path %v, trial %d: %+v, want %+v", of, trial, got, want)
			}
			all, err := search.rhythms(context.Background(), d)
			if err != nil {
				t.Fatal(err)
			}
			for k := range all {
				if all[k].hypothesis != best[k].hypothesis || math.Abs(all[k].score-best[k].score) > 1e-8 {
					t.Errorf("best path %v, trial %d, shift %g: %+v, want %+v", of, trial, grid.shifts[k], all[k], best[k])
				}
			}
		}
	}
}

// A grid of fewer cycle lengths than are kept for their shifts is searched all the
// same.
func TestRaceOfFewCycles(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	timing := exampleTiming()
	laws := new(Laws)
	timing.Laws(laws, Hypothesis{1, timing.systole(1) + timing.SystoleSD})
	d := new(Decoder)
	d.Load(beating(rng, 500, laws))
	search := newRhythmSearch(Rates{Slowest: 60, Fastest: 61}, timing, sumOfPaths)
	if n := len(search.grid.cycles); n != 2 {
		t.Fatalf("%d cycle lengths, want 2", n)
	}
	best, want := math.Inf(-1), Hypothesis{}
	for _, c := range search.grid.cycles {
		for _, shift := range search.grid.shifts {
			h := Hypothesis{c, timing.systole(c) + shift*timing.SystoleSD}
			timing.Laws(laws, h)
			if score := d.Likelihood(laws) - shift*shift/2; score > best {
				best, want = score, h
			}
		}
	}
	got, err := search.likeliest(context.Background(), d)
	if err != nil || got.hypothesis != want {
		t.Errorf("%+v, error %v, want %+v", got, err, want)
	}
}

// exhaustive is the search without bounds.
func exhaustive(score func(*Laws) float64, timing *sojournRegression, g rhythmGrid) []rhythm {
	laws := new(Laws)
	try := func(cycle, shift float64) rhythm {
		h := Hypothesis{Cycle: cycle, Systole: timing.systole(cycle) + shift*timing.SystoleSD}
		timing.Laws(laws, h)
		return rhythm{h, score(laws)}
	}
	var rivals [rivalCycles]rhythm
	for i := range rivals {
		rivals[i].score = math.Inf(-1)
	}
	for _, c := range g.cycles {
		r := try(c, 0)
		for i := range rivals {
			if r.score > rivals[i].score {
				rivals[i], r = r, rivals[i]
			}
		}
	}
	best := make([]rhythm, len(g.shifts))
	for k, shift := range g.shifts {
		best[k].score = math.Inf(-1)
		for _, r := range rivals {
			if r = try(r.hypothesis.Cycle, shift); r.score > best[k].score {
				best[k] = r
			}
		}
	}
	return best
}

// Bounds are above the score at every block, even where frames fit no state.
func TestForwardBounds(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	timing := exampleTiming()
	var race field
	laws := new(Laws)
	for _, cycle := range []float64{0.4, 0.5, 0.55, 0.7, 0.9, 0.6} {
		laws = new(Laws)
		timing.Laws(laws, Hypothesis{cycle, timing.systole(cycle)})
		race.enter(entry{laws: laws})
	}
	race.draw()
	for _, of := range []paths{sumOfPaths, bestPath} {
		for _, spread := range []float64{1, 30, 400} {
			ll := beating(rng, 700, laws)
			for i := range ll {
				ll[i] *= spread
			}
			d := new(Decoder)
			d.Load(ll)
			var later futures
			later.set(d.scaled(), &race.envelopes, of)
			race.start(d.scaled(), &later, of)
			for q := range race.racers {
				f := &race.racers[q]
				var bounds [][simd.Width]float64
				for ; !f.finished; f.advance(&future{&later, race.group(q)}) {
					bounds = append(bounds, f.bound)
				}
				for l := range race.quartets[q].count {
					for k, b := range bounds {
						if b[l] < f.score[l]-1e-9*math.Abs(f.score[l]) {
							t.Errorf("best path %v, spread %g, hypothesis %d: bound %g before block %d is below the score %g", of, spread, simd.Width*q+l, b[l], k, f.score[l])
						}
					}
					if spread < 400 && math.IsInf(f.score[l], 0) {
						t.Errorf("best path %v, spread %g, hypothesis %d: score %g", of, spread, simd.Width*q+l, f.score[l])
					}
				}
			}
		}
	}
}
