package segment

import (
	"context"
	"math"
)

// convGrid is the set of rhythms that a recording is decoded under.
type convGrid struct {
	cycles []float64 // seconds, from fast to slow
	shifts []float64 // of the S1–S2 interval, in standard deviations between recordings
}

// convCycleStep is the ratio of neighbouring cycle lengths on the grid: half a
// standard deviation of diastole within a recording.
const convCycleStep = 1.04

// newConvGrid spans rates from slowest to fastest, per minute.
func newConvGrid(slowest, fastest float64) convGrid {
	g := convGrid{shifts: []float64{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2}}
	for c := 60 / fastest; c < 60/slowest*convCycleStep; c *= convCycleStep {
		g.cycles = append(g.cycles, c)
	}
	return g
}

// convRivals is the number of cycle lengths for which shifts of systole are tried.
const convRivals = 3

// convSearch decodes the frames loaded into d under the rhythms of the grid and
// leaves d with the likeliest. Cycle lengths are tried with the expected systole
// first; then the shifts of systole, whose prior is standard normal, with the
// best few of them. Rhythms can be compared since each is a probability of the
// frames, see Decoder.
func convSearch(ctx context.Context, d *Decoder, laws *Laws, timing *convTiming, g convGrid) (Hypothesis, error) {
	score := func(cycle, shift float64) (float64, Hypothesis) {
		h := Hypothesis{Cycle: cycle, Systole: timing.systole(cycle) + shift*timing.SystoleSD}
		timing.Laws(laws, h)
		return d.Decode(laws) - shift*shift/2, h
	}
	var rivals [convRivals]struct {
		cycle, score float64
	}
	for i := range rivals {
		rivals[i].score = math.Inf(-1)
	}
	for _, c := range g.cycles {
		if err := ctx.Err(); err != nil {
			return Hypothesis{}, err
		}
		s, _ := score(c, 0)
		for i := range rivals {
			if s > rivals[i].score {
				rivals[i].cycle, rivals[i].score, c, s = c, s, rivals[i].cycle, rivals[i].score
			}
		}
	}
	best, likeliest := math.Inf(-1), Hypothesis{}
	for _, r := range rivals {
		for _, shift := range g.shifts {
			if r.score == math.Inf(-1) {
				continue
			}
			if s, h := score(r.cycle, shift); s > best {
				best, likeliest = s, h
			}
		}
	}
	timing.Laws(laws, likeliest)
	d.Decode(laws)
	return likeliest, nil
}
