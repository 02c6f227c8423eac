package segment

import (
	"context"
	"math"
)

// rhythmGrid is the set of rhythms that a recording is decoded under.
type rhythmGrid struct {
	cycles []float64 // seconds, from fast to slow
	shifts []float64 // of the S1–S2 interval, in standard deviations between recordings
}

// cycleStep is the ratio of neighbouring cycle lengths on the grid, less than
// a standard deviation of the cycle within a recording.
const cycleStep = 1.04

// newRhythmGrid spans the rates.
func newRhythmGrid(r Rates) rhythmGrid {
	g := rhythmGrid{shifts: []float64{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2}}
	for c := r.shortest(); c < r.longest()*cycleStep; c *= cycleStep {
		g.cycles = append(g.cycles, c)
	}
	return g
}

// rhythm is a hypothesis with its score: the log probability of frames and best
// path under it, without the prior of its shift.
type rhythm struct {
	hypothesis Hypothesis
	score      float64
}

// rivalCycles is the number of cycle lengths for which shifts of systole are tried.
const rivalCycles = 3

// searchRhythms scores the rhythms of the grid, by Decode or Likelihood of a Decoder
// with its frames loaded, and returns, for each shift, the likeliest. Cycle lengths are tried with the
// expected systole first, then all shifts with the best few of them. Rhythms
// can be compared since each score is a probability of the frames, see Decoder.
func searchRhythms(ctx context.Context, score func(*Laws) float64, laws *Laws, timing *sojournRegression, g rhythmGrid) ([]rhythm, error) {
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
		if err := ctx.Err(); err != nil {
			return nil, err
		}
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
			if r.hypothesis.Cycle == 0 {
				continue // fewer cycles on the grid than rivals
			}
			if r = try(r.hypothesis.Cycle, shift); r.score > best[k].score {
				best[k] = r
			}
		}
	}
	return best, nil
}

// chooseRhythms returns one rhythm for each recording of a person, given those of
// searchRhythms for each.
//
// The S1–S2 interval departs from its regression by a part that belongs to the
// person, of which the share person of the variance comes, and one that belongs
// to the recording. With both normal, in standard deviations of their sum,
//
//	ln P(p, z₁, …) = −p²/(2·person) − Σ_r (z_r − p)²/(2·(1 − person)) + const,
//
// for the person's part p and the shifts z_r. The choice maximises the sum of
// this and the scores over p and all z_r on the grid. For one recording the p
// that suits z best leaves −z²/2, the prior of that recording alone.
func chooseRhythms(recordings [][]rhythm, shifts []float64, person float64) []rhythm {
	best, choice := math.Inf(-1), make([]rhythm, len(recordings))
	current := make([]rhythm, len(recordings))
	for _, p := range personGrid(shifts) {
		total := -p * p / (2 * person)
		for r, rhythms := range recordings {
			score := math.Inf(-1)
			for k, z := range shifts {
				if s := rhythms[k].score - (z-p)*(z-p)/(2*(1-person)); s > score {
					score, current[r] = s, rhythms[k]
				}
			}
			total += score
		}
		if total > best {
			best = total
			copy(choice, current)
		}
	}
	return choice
}

// personGrid refines the shifts to steps of a tenth.
func personGrid(shifts []float64) []float64 {
	var grid []float64
	low, high := shifts[0], shifts[len(shifts)-1]
	for k := 0; low+0.1*float64(k) <= high; k++ {
		grid = append(grid, low+0.1*float64(k))
	}
	return grid
}
